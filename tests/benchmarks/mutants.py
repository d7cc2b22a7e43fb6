"""Change the program by one sign at a time, and see whether a room's tests notice.

A mutant that passes all tests of its room is a gap in them, or changes nothing that counts.

    python -m tests.benchmarks.mutants --each 40 --jobs 2 stats/budget.py
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib.abc
import importlib.util
import os
import random
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import numpy as np  # noqa: F401 - what every child would load anew
import pytest

ROOT = Path(__file__).parents[2]
_UNITS = tuple(
    f"units/test_{name}.py" for name in ("grammar", "ranges", "words", "lookalikes", "say")
)
# The tests of its room that are about a file.
TESTS = {
    "units/grammar.py": _UNITS,
    "units/reading.py": _UNITS,
    "units/plausible.py": _UNITS,
    "physics/stoney.py": ("physics/test_stoney.py", "published/test_worked_examples.py"),
    "stats/noise.py": ("stats/test_noise.py", "stats/test_noise_family.py"),
    "stats/budget.py": ("stats/test_budget.py", "published/test_gum.py"),
    "stats/conformance.py": ("stats/test_conformance.py",),
    "lots/decision.py": ("lots/test_decision.py", "lots/test_limits.py", "lots/test_sample.py"),
}
MOST_SECONDS = 120
KILLED, SURVIVED, LATE = "killed", "survived", "too late"

_COMPARED = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
_COMPARED |= {ast.Eq: ast.NotEq, ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is}
_COMPARED |= {ast.In: ast.NotIn, ast.NotIn: ast.In}
_COMPUTED = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
_COMPUTED |= {ast.Pow: ast.Mult, ast.FloorDiv: ast.Mult, ast.Mod: ast.Mult, ast.MatMult: ast.Mult}


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change: the line, what stood there, what stands there now, the whole tree."""

    line: int
    before: str
    after: str
    tree: ast.Module


def _changes(node: ast.AST) -> Iterator[ast.AST]:
    """Nodes that may stand in place of one."""
    if isinstance(node, ast.Compare):
        for place, sign in enumerate(node.ops):
            changed = copy.deepcopy(node)
            changed.ops[place] = _COMPARED[type(sign)]()
            yield changed
    elif isinstance(node, ast.BinOp) and type(node.op) in _COMPUTED:
        changed = copy.deepcopy(node)
        changed.op = _COMPUTED[type(node.op)]()
        yield changed
    elif isinstance(node, ast.BoolOp):
        changed = copy.deepcopy(node)
        changed.op = ast.And() if isinstance(node.op, ast.Or) else ast.Or()
        yield changed
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not):
        yield copy.deepcopy(node.operand)
    elif isinstance(node, ast.IfExp):
        changed = copy.deepcopy(node)
        changed.body, changed.orelse = changed.orelse, changed.body
        yield changed
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield ast.Constant(not node.value)
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        yield ast.Constant(node.value + 1)
        if node.value:
            yield ast.Constant(node.value * 0.99 if isinstance(node.value, float) else 0)
    elif isinstance(node, ast.Constant) and node.value is None:
        return


def mutants(source: str) -> list[Mutant]:
    """Every change of a source by one node, types and texts left alone."""
    tree, found = ast.parse(source), []

    def walk(node: ast.AST) -> None:
        for name, value in ast.iter_fields(node):
            if name in ("annotation", "returns", "decorator_list", "keywords_of_class"):
                continue
            children = value if isinstance(value, list) else [value]
            for place, child in enumerate(children):
                if not isinstance(child, ast.AST) or isinstance(child, ast.JoinedStr):
                    continue
                for new in _changes(child):
                    ast.copy_location(new, child)
                    _put(node, name, value, place, new)
                    changed = ast.fix_missing_locations(copy.deepcopy(tree))
                    _put(node, name, value, place, child)
                    line = getattr(child, "lineno", 0)
                    found.append(Mutant(line, ast.unparse(child), ast.unparse(new), changed))
                walk(child)

    walk(tree)
    return found


def _put(node: ast.AST, name: str, value: object, place: int, new: ast.AST) -> None:
    if isinstance(value, list):
        value[place] = new
    else:
        setattr(node, name, new)


class _Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Loads one module from a changed tree."""

    def __init__(self, name: str, path: Path, tree: ast.Module) -> None:
        self.name, self.path, self.tree = name, path, tree

    def find_spec(self, name: str, *_: object) -> object:
        return importlib.util.spec_from_loader(name, self) if name == self.name else None

    def exec_module(self, module: ModuleType) -> None:
        module.__file__ = str(self.path)
        exec(compile(self.tree, str(self.path), "exec"), module.__dict__)


def begin(file: str, mutant: Mutant | None) -> int:
    """Run the tests of a file in a child of this process; gives its number."""
    child = os.fork()
    if child:
        return child
    os.setsid()
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    if mutant is not None:
        name = "filmstress." + file.removesuffix(".py").replace("/", ".")
        sys.meta_path.insert(0, _Changed(name, ROOT / "filmstress" / file, mutant.tree))  # type: ignore[arg-type]
    tests = [str(ROOT / "tests" / one) for one in TESTS[file]]
    with tempfile.TemporaryDirectory() as folder:
        code = pytest.main([*tests, "-x", "-q", "-p", "no:cacheprovider", f"--basetemp={folder}/t"])
    os._exit(int(code))


def outcomes(file: str, chosen: Sequence[Mutant | None], jobs: int) -> Iterator[tuple[int, str]]:
    """What became of each mutant, by its place, as they end."""
    running: dict[int, tuple[int, float]] = {}
    waiting = list(enumerate(chosen))
    while waiting or running:
        while waiting and len(running) < jobs:
            place, mutant = waiting.pop(0)
            running[begin(file, mutant)] = place, time.monotonic()
        for child, (place, begun) in list(running.items()):
            ended, status = os.waitpid(child, os.WNOHANG)
            if not ended and time.monotonic() - begun < MOST_SECONDS:
                continue
            if ended:
                became = KILLED if os.waitstatus_to_exitcode(status) else SURVIVED
            else:
                os.killpg(child, signal.SIGKILL)
                os.waitpid(child, 0)
                became = LATE
            del running[child]
            yield place, became
        time.sleep(0.05)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("files", nargs="*", default=list(TESTS), help="below filmstress/")
    parser.add_argument("--each", type=int, default=40, help="mutants of a file, drawn")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    for file in given.files:
        if [became for _, became in outcomes(file, [None], 1)] != [SURVIVED]:
            raise SystemExit(f"{file}: its tests fail as it stands")
        every = mutants((ROOT / "filmstress" / file).read_text(encoding="utf-8"))
        chosen = random.Random(given.seed).sample(every, min(given.each, len(every)))
        survived = []
        counts: Counter[str] = Counter()
        for place, became in outcomes(file, chosen, given.jobs):
            counts[became] += 1
            if became == SURVIVED:
                survived.append(chosen[place])
        told = ", ".join(f"{count} {became}" for became, count in sorted(counts.items()))
        print(f"{file}: {len(chosen)} of {len(every)} mutants: {told}", flush=True)
        for one in sorted(survived, key=lambda one: one.line):
            print(f"  line {one.line}: {one.before}  ->  {one.after}", flush=True)


if __name__ == "__main__":
    main()
