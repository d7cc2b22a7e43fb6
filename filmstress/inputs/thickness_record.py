"""A film's thickness from what ``filmstress thickness --json`` wrote."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, NoReturn

from filmstress.errors import LotError, RefusedInput
from filmstress.inputs.text_file import read_text_file
from filmstress.records.quantity import Measured, Source
from filmstress.units.kinds import Kind
from filmstress.units.say import readable

SCHEMA = "filmstress/thickness/1"
_AGREEMENT = 1e-6  # relative to the thickness
_HINT = "write it with: filmstress thickness SCAN... --json > 01.json"

Files = tuple[tuple[str, str], ...]


def read_thickness(path: str, kind: Kind, *, where: str) -> tuple[Measured, Files]:
    """Thickness with its uncertainty, and the files that it rests on.

    Parameters
    ----------
    path : str
        Of the record.
    kind : Kind
        What it is to be, with its plausible range.
    where : str
        Place that names it, for messages.

    Returns
    -------
    Measured
        [m].
    tuple of (str, str)
        Path and SHA-256 of the record, then of every scan; these are looked for from the record's
        folder, and stand under the path that the record states where they are not there.

    Raises
    ------
    RefusedInput
        The file cannot be read, is no such record, or states no thickness.
    """
    place = f"{where}: {path}" if where else path
    try:
        file = read_text_file(Path(path), what="thickness record")
    except LotError as error:
        raise RefusedInput(error.message, where=place, hint=_HINT) from None
    try:
        data = json.loads(file.text, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise RefusedInput("is not JSON", where=place, hint=_HINT) from None
    schema = data.get("schema") if isinstance(data, dict) else None
    if schema != SCHEMA:
        told = f"is a '{schema}'" if isinstance(schema, str) and schema.isprintable() else "is none"
        raise RefusedInput(
            f"{told[:80]}; a thickness record is wanted ('{SCHEMA}')", where=place, hint=_HINT
        )
    try:
        measured = _measured(data["thickness"], path)
        scans = [(str(one["file"]), str(one["sha256"])) for one in data["inputs"]["files"]]
        agrees = _agrees(data["thickness"])
    except (KeyError, TypeError, ValueError, OverflowError):
        raise RefusedInput(
            "states no thickness in metres with its uncertainty and files", where=place, hint=_HINT
        ) from None
    if not agrees:
        raise RefusedInput(
            "contradicts itself: its interval is not its value with its uncertainty, so one of "
            "them was changed",
            where=place,
            hint=_HINT,
        )
    if not kind.low <= measured.value <= kind.high:
        raise RefusedInput(
            f"a {kind.name} of {readable(measured.value, 'length')} is not plausible; want "
            f"{readable(kind.low, 'length')} to {readable(kind.high, 'length')}",
            where=place,
            hint=_HINT,
        )
    folder = Path(path).parent
    found = [(_located(file, folder), sha256) for file, sha256 in scans]
    return measured, ((path, file.sha256), *found)


def _no_number(word: str) -> NoReturn:
    raise ValueError(word)


def _measured(data: Mapping[str, Any], path: str) -> Measured:
    value, u, dof = (data[name] for name in ("value", "standard_uncertainty", "degrees_of_freedom"))
    dof = math.inf if dof is None else dof
    for one in (value, u, dof):
        if isinstance(one, bool) or not isinstance(one, int | float):
            raise TypeError
    if data["unit"] != "m" or not (math.isfinite(value) and 0.0 <= u < value and dof >= 1.0):
        raise ValueError
    free = "" if math.isinf(dof) else f", {dof:.0f} degrees of freedom"
    return Measured(
        float(value),
        "m",
        float(u),
        dof=float(dof),
        read_as=f"from {Path(path).name}: ± {readable(u, 'length', 2)} "
        f"(standard uncertainty{free})",
        source=Source.DATA,
    )


def _agrees(data: Mapping[str, Any]) -> bool:
    """Whether the interval, where there is one, says the same as value and uncertainty."""
    if data.get("interval") is None:
        return True
    low, high = map(float, data["interval"])
    value, u, k = (
        float(data[name]) for name in ("value", "standard_uncertainty", "coverage_factor")
    )
    near = _AGREEMENT * value
    return abs(low - (value - k * u)) <= near and abs(high - (value + k * u)) <= near


def _located(file: str, folder: Path) -> str:
    """A scan by as much of the end of its path as leads to a file from the record's folder."""
    try:
        parts = Path(file).parts
        for start in range(len(parts)):
            found = folder.joinpath(*parts[start:])
            if found.is_file():
                return str(found)
    except (OSError, ValueError):
        pass
    return file
