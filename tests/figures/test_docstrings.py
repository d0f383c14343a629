"""The docstrings of the calculations: each module and function has one, examples run, arguments are named."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

import kiosk.figures

NAMES = sorted(module.name for module in pkgutil.walk_packages(kiosk.figures.__path__, "kiosk.figures."))
# These take whole records, whose classes document their fields.
NAMES_ARGUMENTS = set(NAMES) - {"kiosk.figures.casks.accounts", "kiosk.figures.figure"}
MODULES = [importlib.import_module(name) for name in NAMES]


def public(module: ModuleType) -> list[Callable[..., object]]:
    found = inspect.getmembers(module, inspect.isfunction)
    return [f for name, f in found if not name.startswith("_") and f.__module__ == module.__name__]


FUNCTIONS = [f for n, m in zip(NAMES, MODULES, strict=True) if n in NAMES_ARGUMENTS for f in public(m)]


def test_the_walk_covers_every_module() -> None:
    folder = Path(kiosk.figures.__file__).parent
    assert len(NAMES) == len(list(folder.rglob("*.py"))) - 1  # the package itself


@pytest.mark.parametrize("module", [kiosk.figures, *MODULES], ids=["kiosk.figures", *NAMES])
def test_a_module_opens_with_one_sentence(module: ModuleType) -> None:
    first, _, rest = (module.__doc__ or "").partition("\n")
    assert first.endswith(".") or (rest and not rest.startswith("\n"))


@pytest.mark.parametrize("function", [f for m in MODULES for f in public(m)], ids=lambda f: f.__name__)
def test_a_function_opens_with_one_sentence(function: Callable[..., object]) -> None:
    first = (inspect.getdoc(function) or "").partition("\n")[0]
    assert first.endswith((".", ":")), first


@pytest.mark.parametrize("module", MODULES, ids=NAMES)
def test_examples_in_docstrings_run(module: ModuleType) -> None:
    assert doctest.testmod(module).failed == 0


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f.__name__)
def test_every_argument_is_named_in_its_docstring(function: Callable[..., object]) -> None:
    doc = inspect.getdoc(function) or ""
    assert [name for name in inspect.signature(function).parameters if f"`{name}`" not in doc] == []
