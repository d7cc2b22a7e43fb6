"""truth.toml: what scans were drawn from, written beside them and read back."""

from __future__ import annotations

import json
import os
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from filmstress.errors import RefusedInput
from filmstress.records.wafer import Face
from filmstress.simulate.pair import SimulatedPair
from filmstress.simulate.truth import ScanConditions, Truth

_CONDITIONS = ("pre", "post")
HEAD = """\
# What these scans were drawn from: SI units, in the names.
# Where an input is stated to the measurement with an uncertainty, the value here is the true one.
"""


def truths_text(wafers: Iterable[tuple[str, Truth, Sequence[SimulatedPair]]]) -> str:
    """Return the text of a truth.toml: every wafer's id, truth, and the lines drawn from it."""
    blocks = [HEAD]
    for wafer, truth, pairs in wafers:
        blocks.append(f"[[wafer]]\nid = {_toml(wafer)}\n")
        blocks.append(_table("wafer.truth", truth))
        blocks.extend(
            _table(f"wafer.truth.{name}", getattr(truth, name))
            for name in _CONDITIONS
            if getattr(truth, name) != ScanConditions()
        )
        blocks.extend(_line(pair) for pair in pairs)
    return "\n".join(blocks)


def read_truths(path: str | os.PathLike[str]) -> dict[str, Truth]:
    """Read the truths of a truth.toml, by wafer.

    Raises
    ------
    RefusedInput
        A file that cannot be read, or a key that is no part of a truth.
    """
    where = os.fspath(path)
    try:
        document = tomllib.loads(Path(path).read_text("utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise RefusedInput(f"cannot be read as a truth file ({error})", where=where) from error
    try:
        return {entry["id"]: truth_from(entry["truth"]) for entry in document["wafer"]}
    except (KeyError, TypeError) as error:
        raise RefusedInput(
            f"is no truth file: {error}",
            where=where,
            hint="it holds [[wafer]] entries, each with an id and a table [wafer.truth]",
        ) from error


def truth_from(table: Mapping[str, Any]) -> Truth:
    """Make a truth from the values of its table; ``pre`` and ``post`` are tables in it.

    Raises
    ------
    RefusedInput
        A key that is no part of a truth, or a value that it cannot have.
    """
    values = _known(table, Truth, "truth")
    for name in _CONDITIONS:
        if name in values:
            values[name] = ScanConditions(**_known(values[name], ScanConditions, f"truth.{name}"))
    try:
        if "face" in values:
            values["face"] = Face(values["face"])
        for name in ("azimuths_rad", "weighed_on"):
            if name in values:
                values[name] = tuple(values[name])
        return Truth(**values)
    except (TypeError, ValueError) as error:  # a word where a number belongs, or one left out
        raise RefusedInput(str(error), where="truth") from error


def _known(table: object, kind: type, where: str) -> dict[str, Any]:
    if not isinstance(table, Mapping):
        raise RefusedInput(f"{table!r} came; want a table", where=where)
    names = [item.name for item in fields(kind)]
    for key in table:
        if key not in names:
            near = get_close_matches(key, names, n=1, cutoff=0.0)[0]
            raise RefusedInput(
                f"there is no '{key}' in a truth", where=where, hint=f"the nearest is '{near}'"
            )
    return dict(table)


def _table(name: str, record: Truth | ScanConditions) -> str:
    lines = [f"[{name}]"]
    for item in fields(record):
        value = getattr(record, item.name)
        nothing = value is None or (isinstance(value, tuple) and not value)
        if item.name not in _CONDITIONS and not nothing:
            lines.append(f"{item.name} = {_toml(value)}")
    return "\n".join(lines) + "\n"


def _line(pair: SimulatedPair) -> str:
    # Nine digits: enough for any comparison, and free of the last bits of linear algebra.
    return (
        "[[wafer.line]]\n"
        f"azimuth_rad = {_toml(pair.azimuth_rad)}\n"
        f"repeat = {pair.repeat}\n"
        f"curvature_change_per_m = {pair.curvature_change:.9g}\n"
        f"offset_m = {pair.offset_m:.9f}\n"
        f"reversed = {_toml(pair.reversed)}\n"
    )


def _toml(value: object) -> str:
    if isinstance(value, tuple):
        return f"[{', '.join(_toml(item) for item in value)}]"
    if isinstance(value, bool | int):
        return json.dumps(value)
    if isinstance(value, float):
        return repr(value)
    # JSON strings are TOML strings, but for one control character.
    return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")
