"""Figures import the standard library's calculating part and each other, nothing else."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import kiosk.figures

ALLOWED = {
    "__future__",
    "bisect",
    "collections",
    "contextlib",
    "dataclasses",
    "datetime",
    "decimal",
    "enum",
    "fractions",
    "functools",
    "itertools",
    "math",
    "re",
    "statistics",
    "threading",
    "types",
    "typing",
}
# What would read a clock, a file or chance: a figure is given what it needs.
FORBIDDEN_CALLS = {"now", "today", "utcnow", "fromtimestamp", "open", "print", "random", "exec", "eval"}

MODULES = sorted(Path(kiosk.figures.__file__).parent.rglob("*.py"))


def imported(tree: ast.AST) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names.add("." * node.level + (node.module or ""))
    return names


def strangers(source: str) -> set[str]:
    return {
        name
        for name in imported(ast.parse(source))
        if name != "kiosk.figures"
        and not name.startswith("kiosk.figures.")
        and name.split(".")[0] not in ALLOWED
    }


def called(source: str) -> set[str]:
    calls = [node.func for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call)]
    return {f.attr if isinstance(f, ast.Attribute) else getattr(f, "id", "") for f in calls}


@pytest.mark.parametrize("module", MODULES, ids=lambda path: path.stem)
def test_a_figures_module_imports_only_calculation(module: Path) -> None:
    assert strangers(module.read_text(encoding="utf-8")) == set()


@pytest.mark.parametrize("module", MODULES, ids=lambda path: path.stem)
def test_a_figures_module_reads_no_clock_no_file_no_chance(module: Path) -> None:
    assert called(module.read_text(encoding="utf-8")) & FORBIDDEN_CALLS == set()


@pytest.mark.parametrize(
    "source",
    ["import flask", "from sqlalchemy import select", "import os.path", "from kiosk.site import settings"],
)
def test_the_walk_sees_a_stranger(source: str) -> None:
    assert strangers(source)


def test_the_walk_sees_a_clock() -> None:
    assert called("from datetime import datetime\nwhen = datetime.now()") & FORBIDDEN_CALLS
