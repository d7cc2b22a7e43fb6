"""The public names are one explicit list, and it is true."""

from __future__ import annotations

import ast
import typing
from pathlib import Path

import filmstress
from filmstress.inputs.arguments import Arguments
from filmstress.inputs.keys import arguments

INIT = Path(filmstress.__file__)


def test_every_public_name_loads_and_has_a_docstring() -> None:
    for name in filmstress.__all__:
        thing = getattr(filmstress, name)
        assert name.startswith("__") or thing.__doc__, name


def test_names_for_type_checkers_are_the_names_that_load() -> None:
    tree = ast.parse(INIT.read_text(encoding="utf-8"))
    block = next(node for node in tree.body if isinstance(node, ast.If))
    homes = {
        alias.name: node.module
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert homes == filmstress._HOMES
    assert set(filmstress.__all__) == {"__version__", *homes}
    assert dir(filmstress) == sorted(filmstress.__all__)


def test_an_unknown_name_is_an_attribute_error() -> None:
    assert not hasattr(filmstress, "radius_of_everything")


def test_typed_keyword_arguments_are_the_table_of_keys() -> None:
    assert list(typing.get_type_hints(Arguments)) == [name for name, _, _ in arguments()]


def test_package_is_marked_as_typed() -> None:
    assert INIT.with_name("py.typed").exists()
