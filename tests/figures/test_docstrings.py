"""What the docstrings of the calculations promise: examples that run, every argument named."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
from collections.abc import Callable
from types import ModuleType

import pytest

import kiosk.figures

NAMES = sorted(module.name for module in pkgutil.iter_modules(kiosk.figures.__path__))
# These take whole records, whose classes document their fields.
NAMES_ARGUMENTS = set(NAMES) - {"accounts", "figure"}
MODULES = [importlib.import_module(f"kiosk.figures.{name}") for name in NAMES]


def public(module: ModuleType) -> list[Callable[..., object]]:
    found = inspect.getmembers(module, inspect.isfunction)
    return [f for name, f in found if not name.startswith("_") and f.__module__ == module.__name__]


FUNCTIONS = [f for n, m in zip(NAMES, MODULES, strict=True) if n in NAMES_ARGUMENTS for f in public(m)]


@pytest.mark.parametrize("module", MODULES, ids=NAMES)
def test_examples_in_docstrings_run(module: ModuleType) -> None:
    assert doctest.testmod(module).failed == 0


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f.__name__)
def test_every_argument_is_named_in_its_docstring(function: Callable[..., object]) -> None:
    doc = inspect.getdoc(function) or ""
    assert [name for name in inspect.signature(function).parameters if f"`{name}`" not in doc] == []
