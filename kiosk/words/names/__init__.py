"""The words of every figure, by subject."""
