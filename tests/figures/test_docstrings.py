"""What the docstrings of the calculations promise: examples that run, every argument named."""

from __future__ import annotations

import doctest
import importlib
import inspect
from collections.abc import Callable
from types import ModuleType

import pytest

NAMES = ("strength", "wash", "stillrun", "student", "loss_rates", "casks", "yields", "solving", "ranges")
MODULES = [importlib.import_module(f"kiosk.figures.{name}") for name in NAMES]


def public(module: ModuleType) -> list[Callable[..., object]]:
    found = inspect.getmembers(module, inspect.isfunction)
    return [f for name, f in found if not name.startswith("_") and f.__module__ == module.__name__]


FUNCTIONS = [f for module in MODULES for f in public(module)]


@pytest.mark.parametrize("module", MODULES, ids=NAMES)
def test_examples_in_docstrings_run(module: ModuleType) -> None:
    assert doctest.testmod(module).failed == 0


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f.__name__)
def test_every_argument_is_named_in_its_docstring(function: Callable[..., object]) -> None:
    doc = inspect.getdoc(function) or ""
    assert [name for name in inspect.signature(function).parameters if f"`{name}`" not in doc] == []
