"""Measures how many small faults the tests catch: changes one line at a time and runs its module's tests.

Run by hand: `python -m tests.mutations [--count 200] [--seed COMMIT] [--jobs 2] [--paths PATH ...]`.

The mutations are drawn from the code of the checkout as it stands, at most one from each line, in
an order that the hash of the seed's commit decides, each package in turn, and made in private
copies. The tests of a module are the examples in its docstrings and `tests/<path>/test_<module>.py`, or,
for a package, `test_<package>.py` in its folder; where there is no such file, those of the folder that
import the module. Where all of these pass, the others of the folder are run: much of a module is tried
through its neighbours. A mutation is caught when one fails or the time runs out.

Mutations that change nothing that anyone could observe stand in `mutations.toml` beside this
file, each with its reason. They are not counted, and others are drawn in their place.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from itertools import chain, pairwise, zip_longest
from pathlib import Path
from queue import SimpleQueue
from typing import NamedTuple

from tests.databases import postgres

ROOT = Path(__file__).parents[1]
PACKAGES = ("kiosk/figures", "kiosk/production", "kiosk/store", "kiosk/staff")
LEFT_OUT = "/migrations/"
EQUIVALENT = Path(__file__).with_suffix(".toml")
PYTEST = ("-m", "pytest", "-xq", "-p", "_hypothesis_pytestplugin", "--hypothesis-seed=0", "--doctest-modules")
MARKS = "not browser and not faults and not deep"
TIMEOUT_S, BASELINE_S = 300, 3600

OPERATORS: Mapping[type[ast.AST], tuple[str, tuple[str, ...]]] = {
    ast.Lt: ("<", ("<=", ">=")),
    ast.LtE: ("<=", ("<", ">")),
    ast.Gt: (">", (">=", "<=")),
    ast.GtE: (">=", (">", "<")),
    ast.Eq: ("==", ("!=",)),
    ast.NotEq: ("!=", ("==",)),
    ast.Is: ("is", ("is not",)),
    ast.IsNot: (r"is\s+not", ("is",)),
    ast.In: ("in", ("not in",)),
    ast.NotIn: (r"not\s+in", ("in",)),
    ast.And: ("and", ("or",)),
    ast.Or: ("or", ("and",)),
    ast.Add: (r"\+", ("-",)),
    ast.Sub: ("-", ("+",)),
    ast.Mult: (r"\*", ("/",)),
    ast.Div: ("/", ("*",)),
    ast.FloorDiv: ("//", ("/",)),
    ast.Mod: ("%", ("*",)),
    ast.Pow: (r"\*\*", ("*",)),
    ast.BitAnd: ("&", ("|",)),
    ast.BitOr: (r"\|", ("&",)),
}
"""How each operator is written, as a pattern, and what stands in its place in a mutation."""

CALLED = {"min": "max", "max": "min", "any": "all", "all": "any", "ceil": "floor", "floor": "ceil"}
NOT_EXECUTED = frozenset({"annotation", "returns", "decorator_list"})


class Mutation(NamedTuple):
    """A replacement of some bytes of a file by others, all on one line."""

    path: str
    line: int
    start: int
    end: int
    by: str
    before: str
    after: str

    @property
    def name(self) -> tuple[str, str, str]:
        """What names it whatever is added above it: its file, and the line before and after."""
        return self.path, self.before, self.after


class Module:
    """A module's source and the mutations that can be made in it."""

    def __init__(self, path: str, source: bytes) -> None:
        self.path, self.source = path, source
        self.lines = [0, *(match.end() for match in re.finditer(b"\n", source))]

    def mutations(self) -> list[Mutation]:
        """Return every mutation that stays on its line and is still Python."""
        made = []
        for start, end, by in chain.from_iterable(map(self._of, _executed(ast.parse(self.source)))):
            mutated = self.source[:start] + by.encode() + self.source[end:]
            try:
                ast.parse(mutated)
            except SyntaxError:
                continue
            line = self.source.count(b"\n", 0, start)
            texts = (text.split(b"\n")[line].decode().strip() for text in (self.source, mutated))
            if b"\n" not in self.source[start:end]:
                made.append(Mutation(self.path, line + 1, start, end, by, *texts))
        return made

    def _of(self, node: ast.AST) -> Iterator[tuple[int, int, str]]:
        match node:
            case ast.Compare():
                for sides, op in zip(pairwise([node.left, *node.comparators]), node.ops, strict=True):
                    yield from self._operator(*sides, op)
            case ast.BoolOp():
                for sides in pairwise(node.values):
                    yield from self._operator(*sides, node.op)
            case ast.BinOp():
                yield from self._operator(node.left, node.right, node.op)
            case ast.AugAssign():
                yield from self._operator(node.target, node.value, node.op)
            case ast.UnaryOp(op=ast.Not() | ast.USub()):
                yield self._place(node)[0], self._place(node.operand)[0], ""
            case ast.Constant(value=bool() as truth):
                yield *self._place(node), str(not truth)
            case ast.Constant(value=int() | float() as number):
                for other in (number + 1, number - 1):
                    yield *self._place(node), repr(other) if other >= 0 else f"({other})"
            case ast.Name(id=name) if name in CALLED:
                yield *self._place(node), CALLED[name]
            case ast.If() | ast.IfExp() | ast.While():
                yield self._negated(node.test)
            case ast.comprehension():
                yield from map(self._negated, node.ifs)
            case ast.Return(value=ast.expr() as value) if not isinstance(value, ast.Constant):
                yield *self._place(value), "None"
            case ast.Raise() | ast.Expr(value=ast.Call()):
                yield *self._place(node), "pass"

    def _place(self, node: ast.expr | ast.stmt) -> tuple[int, int]:
        """Return where a node begins and ends, in bytes."""
        start = self.lines[node.lineno - 1] + node.col_offset
        return start, self.lines[(node.end_lineno or 0) - 1] + (node.end_col_offset or 0)

    def _negated(self, test: ast.expr) -> tuple[int, int, str]:
        start, end = self._place(test)
        return start, end, f"not ({self.source[start:end].decode()})"

    def _operator(self, left: ast.expr, right: ast.expr, op: ast.AST) -> Iterator[tuple[int, int, str]]:
        pattern, others = OPERATORS.get(type(op), ("", ()))
        begins = self._place(left)[1]
        between = self.source[begins : self._place(right)[0]]
        operator = re.search(pattern.encode(), between)
        if operator and b"#" not in between:
            for other in others:
                yield begins + operator.start(), begins + operator.end(), other


def _executed(node: ast.AST) -> Iterator[ast.AST]:
    """Yield a node and what is executed within it.

    Left out are texts with values in them, of which the places are not exact, types joined by `| None`,
    and the `strict` of `zip`, which guards against mistakes in the code itself.
    """
    yield node
    for name, value in ast.iter_fields(node):
        for child in value if isinstance(value, list) else [value]:
            match child:
                case ast.JoinedStr() | ast.keyword(arg="strict") | ast.BinOp(right=ast.Constant(value=None)):
                    pass
                case ast.AST() if name not in NOT_EXECUTED:
                    yield from _executed(child)


def draw(paths: Sequence[str], seed: str) -> list[Mutation]:
    """Return the mutations of what lies under some paths in the seed's order, one of each path in turn."""
    rng, by_path = random.Random(seed), []
    for path in paths:
        files = [file for file in tracked(path) if file.endswith(".py") and LEFT_OUT not in file]
        every = [one for file in files for one in Module(file, (ROOT / file).read_bytes()).mutations()]
        rng.shuffle(every)
        by_path.append({(one.path, one.line): one for one in every}.values())
    return [one for one in chain(*zip_longest(*by_path)) if one]


def tests_of(path: str) -> tuple[list[str], list[str]]:
    """Return the test files that mirror a module, and the others of their folder.

    A word may stand before or after the module's name.
    """
    folder = Path("tests", *Path(path).parts[1:-1])
    module = Path(path.removesuffix("/__init__.py")).with_suffix("")
    while not any((ROOT / folder).rglob("test_*.py")):
        folder = folder.parent
    files = sorted((ROOT / folder).rglob("test_*.py"))
    beside = [file for file in files if file.parent == ROOT / folder] or files
    named = re.compile(rf"test_(\w+_)?{module.name}(_\w+)?\.py")
    name, package = ".".join(module.parts), ".".join(module.parent.parts)
    imports = re.compile(rf"^ *(from|import) {name}\b|^ *from {package} import .*\b{module.name}\b", re.M)
    mirrors = [file for file in beside if named.fullmatch(file.name)]
    mirrors = mirrors or [file for file in files if imports.search(file.read_text())]
    others = [file for file in beside if file not in mirrors]
    return [str(one.relative_to(ROOT)) for one in mirrors], [str(one.relative_to(ROOT)) for one in others]


def fail(copy: Path, files: Sequence[str], chosen: str, timeout_s: float, output: int | None) -> bool:
    """Say whether tests fail on a copy; tests that take too long do."""
    own = {name: value for name, value in os.environ.items() if not name.startswith("PYTEST_")}
    own |= {"PYTHONPATH": str(copy), "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}  # loading them takes longest
    command = [sys.executable, *PYTEST, "-m", MARKS, "-k", chosen, *files]
    running = subprocess.Popen(command, cwd=copy, env=own, stdout=output, start_new_session=True)
    try:
        return running.wait(timeout_s) not in (0, 5)  # 5: no test was chosen
    except subprocess.TimeoutExpired:
        return True
    finally:
        if running.poll() is None:
            os.killpg(running.pid, signal.SIGKILL)
            running.wait()


def is_caught(copy: Path, mutation: Mutation, mirrors: Sequence[str], others: Sequence[str]) -> bool:
    """Make a mutation in a copy, run its tests, those that take longest last, and undo it."""
    file = copy / mutation.path
    source, written = file.read_bytes(), file.stat().st_mtime
    file.write_bytes(source[: mutation.start] + mutation.by.encode() + source[mutation.end :])
    os.utime(file, (written, written + mutation.line))  # no file that was compiled before is taken for it
    own = [mutation.path, *mirrors]
    steps = [(own, "not postgresql"), (others, "not postgresql"), (mirrors, "postgresql")]
    caught = any(fail(copy, files, chosen, TIMEOUT_S, subprocess.DEVNULL) for files, chosen in steps if files)
    file.write_bytes(source)
    os.utime(file, (written, written))
    return caught


def tracked(*paths: str) -> list[str]:
    """Return the files of the checkout that git knows, under some paths."""
    names = subprocess.check_output(["git", "ls-files", "-z", *paths], cwd=ROOT, text=True).split("\0")
    return [name for name in names if name and (ROOT / name).is_file()]


def copied(to: Path) -> Path:
    """Copy the checkout's files as they stand."""
    for name in tracked():
        (to / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(ROOT / name, to / name)
    return to


def judged(drawn: Sequence[Mutation], jobs: int) -> Iterator[tuple[Mutation, bool]]:
    """Yield each mutation and whether it was caught. Raises SystemExit where tests fail without any."""
    files = {one.path: tests_of(one.path) for one in drawn}
    every = sorted({*files, *chain.from_iterable(chain.from_iterable(files.values()))})
    with tempfile.TemporaryDirectory() as scratch, postgres() as server, ThreadPoolExecutor(jobs) as pool:
        os.environ["TEST_DATABASE_URL"] = server.url
        copies: SimpleQueue[Path] = SimpleQueue()
        for n in range(jobs):
            copies.put(copied(Path(scratch, str(n))))
        if fail(Path(scratch, "0"), every, "", BASELINE_S, None):
            raise SystemExit(f"the tests fail without a mutation: {' '.join(every)}")

        def judge(one: Mutation) -> tuple[Mutation, bool]:
            copy = copies.get()
            try:
                return one, is_caught(copy, one, *files[one.path])
            finally:
                copies.put(copy)

        yield from pool.map(judge, drawn)


def main() -> None:
    """Draw mutations, judge them, and print every survivor and the share that was caught."""
    options = argparse.ArgumentParser(description="Measure how many small faults the tests catch.")
    options.add_argument("--count", type=int, default=200, help="how many mutations are made")
    options.add_argument("--seed", default="HEAD", help="the commit whose hash decides which")
    options.add_argument("--jobs", type=int, default=2, help="how many are judged at a time")
    options.add_argument("--paths", nargs="+", default=PACKAGES, help="folders or files to mutate")
    given = options.parse_args()
    seed = subprocess.check_output(["git", "rev-parse", given.seed], cwd=ROOT, text=True).strip()
    listed = tomllib.loads(EQUIVALENT.read_text())["equivalent"]
    equivalent = {(one["path"], one["before"], one["after"]) for one in listed}
    drawn = [one for one in draw(given.paths, seed) if one.name not in equivalent][: given.count]
    print(f"{len(drawn)} mutations by {seed}; {len(equivalent)} are listed as equivalent", flush=True)
    os.nice(10)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit("stopped"))
    begun, made, caught = time.monotonic(), Counter[str](), Counter[str]()
    try:
        for one, is_one_caught in judged(drawn, given.jobs):
            package = "/".join(one.path.split("/")[:2])
            made[package] += 1
            caught[package] += is_one_caught
            if not is_one_caught:
                print(f"survived: {one.path}:{one.line}\n  - {one.before}\n  + {one.after}", flush=True)
    finally:  # a run that is stopped says what it made so far
        print(*(f"{package}: {caught[package]} of {made[package]}" for package in sorted(made)), sep="\n")
        share = 100 * caught.total() / max(1, made.total())
        took_s = time.monotonic() - begun
        print(f"caught {caught.total()} of {made.total()}: {share:.1f} %, in {took_s:.0f} s")


if __name__ == "__main__":
    main()
