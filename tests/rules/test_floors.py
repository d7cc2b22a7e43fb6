"""The floors of the house: a room imports only from floors below, and rooms of one floor never
import each other."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "filmstress"

FLOORS = {
    "version": 0,
    "errors": 0,
    "records": 1,
    "units": 2,
    "stats": 2,
    "substrates": 2,
    "physics": 3,
    "scans": 3,
    "inputs": 3,
    "measure": 4,
    "simulate": 4,
    "charting": 4,
    "planning": 5,
    "stacks": 5,
    "lots": 5,
    "history": 5,
    "report": 5,
    "cli": 6,
    "__init__": 7,
    "__main__": 7,
}
# Rooms that are narrower than their floor allows.
ONLY = {"physics": {"errors"}, "stats": {"errors", "records"}, "units": {"errors", "records"}}
# Third-party packages with one home.
HOMES = {
    "pint": "units",
    "matplotlib": "report",
    "jinja2": "report",
    "typer": "cli",
    "sqlalchemy": "history",
}


def modules() -> list[Path]:
    return sorted(PACKAGE.rglob("*.py"))


def room_of(path: Path) -> str:
    return path.relative_to(PACKAGE).with_suffix("").parts[0]


def imports_of(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            yield node.module or ""


def named(path: Path) -> str:
    return str(path.relative_to(PACKAGE))


def test_every_room_has_a_floor() -> None:
    assert {room_of(path) for path in modules()} == set(FLOORS)


@pytest.mark.parametrize("path", modules(), ids=named)
def test_imports_only_from_below(path: Path) -> None:
    room = room_of(path)
    for name in imports_of(path):
        if not name.startswith("filmstress"):
            continue
        parts = name.split(".")
        assert len(parts) > 1, f"{path} imports the root package"
        other = parts[1]
        if other == room:
            continue
        assert FLOORS[other] < FLOORS[room], f"{path} imports {name}"
        if room in ONLY:
            assert other in ONLY[room], f"{path} imports {name}"


@pytest.mark.parametrize("path", modules(), ids=named)
def test_third_party_packages_have_one_home(path: Path) -> None:
    for name in imports_of(path):
        home = HOMES.get(name.split(".")[0])
        assert home in (None, room_of(path)), f"{path} imports {name}"


def test_no_circles_inside_the_package() -> None:
    graph = {}
    for path in modules():
        name = ".".join(("filmstress", *path.relative_to(PACKAGE).with_suffix("").parts))
        tree = ast.parse(path.read_text(encoding="utf-8"))
        graph[name] = {
            node.module
            for node in tree.body
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("filmstress.")
        }
    done: set[str] = set()

    def visit(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, " -> ".join((*trail, name))
        if name in done or name not in graph:
            return
        for other in graph[name]:
            visit(other, (*trail, name))
        done.add(name)

    for name in graph:
        visit(name, ())


@pytest.mark.parametrize("path", modules(), ids=named)
def test_files_are_small(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400
