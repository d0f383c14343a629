"""The calculation module: pure functions and frozen dataclasses.

Nothing here may import flask, sqlalchemy, babel or any other package of ours,
read a clock, open a file or keep state that changes an answer: what a figure
needs is passed in. `lint-imports` and `tests/figures/test_purity.py` keep it so.
"""
