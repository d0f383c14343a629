"""The day's tours and the check-in of their guests."""
