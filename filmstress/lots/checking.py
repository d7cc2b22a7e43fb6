"""Whether the wafers of a lot file could be measured: their substrates and their scan files."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from filmstress.errors import FilmstressError, LotError
from filmstress.inputs.faults import FaultList
from filmstress.inputs.scan_parts import FROM_LOT
from filmstress.lots.same_files import same_files
from filmstress.measure.plate import plate_of
from filmstress.measure.verdicts import refusal_of
from filmstress.records.scan import ReadingOptions
from filmstress.records.wafer import SubstrateSpec, WaferSpec
from filmstress.scans.reading.scan_file import check_head

STDIN = "-"


def check_wafers(wafers: Sequence[WaferSpec], where: str, faults: FaultList) -> None:
    """Add a fault for everything that keeps a wafer from being measured, short of measuring it.

    Scan files are opened, and read as far as their first rows.

    Parameters
    ----------
    wafers : sequence of WaferSpec
    where : str
        The lot file, for messages.
    faults : FaultList
        Receives the faults.
    """
    same = same_files(wafers)
    taken = {path for wafer in wafers for path, _ in _files(wafer)}
    substrates: dict[tuple[str, str], list[str]] = {}
    for wafer in wafers:
        place = f"{where}, wafer {wafer.id}"
        try:
            # A substrate that is not named at all is a fault of the lot file already.
            if _is_named(wafer.substrate):
                plate_of(wafer.substrate)
        except FilmstressError as fault:
            key = f"{fault.where}: {fault.message}" if fault.where else fault.message
            substrates.setdefault((key, fault.hint), []).append(wafer.id)
        if (refusal := refusal_of(wafer)) is not None:
            faults.add(LotError(f"{refusal.code}: {refusal.message}", where=place))
        for path, options in dict.fromkeys(_files(wafer)):
            try:
                check_head(path, options)
            except FilmstressError as fault:
                hint = _nearest(path, taken) or fault.hint
                faults.add(LotError(f"{fault.where}: {fault.message}", where=place, hint=hint))
        if wafer.id in same:
            faults.add(LotError(same[wafer.id], where=place))
    for (message, hint), ids in substrates.items():
        named = f"wafers {', '.join(ids)}" if len(ids) > 1 else f"wafer {ids[0]}"
        faults.add(LotError(message, where=f"{where}, {named}", hint=hint))


def check_named(paths: Iterable[str], base: Path, where: str, faults: FaultList) -> None:
    """Add a fault for every file that is not there, for a wafer that has other faults already."""
    taken = [str(base / path) for path in paths if path != STDIN]
    for path in dict.fromkeys(taken):
        if not Path(path).exists():
            hint = (
                _nearest(path, taken)
                or "check the name; in a lot file, paths start from its folder"
            )
            faults.add(LotError(f"{path}: no such file", where=where, hint=hint))


def _is_named(substrate: SubstrateSpec) -> bool:
    constants = (substrate.material, substrate.modulus, substrate.youngs_modulus)
    return any(one is not None for one in constants)


def _nearest(path: str, taken: Collection[str]) -> str:
    """A hint that names the file that may have been meant, where one is missing.

    Files that are named in their own right already were not.
    """
    file = Path(path)
    try:
        if file.exists() or not file.parent.is_dir():
            return ""
        free = [one.name for one in file.parent.iterdir() if str(one) not in taken]
        close = difflib.get_close_matches(file.name, free, 1)
    except (OSError, ValueError):
        return ""
    return f"did you mean '{close[0]}'?" if close else ""


def _files(wafer: WaferSpec) -> Iterator[tuple[str, ReadingOptions]]:
    for line in wafer.lines:
        for state in (*line.states, *line.weight):
            of_datum = replace(state.scan.reading, trace=None)
            for path, options in (
                (state.scan.path, state.scan.reading),
                (state.scan.datum, of_datum),
            ):
                if path is not None and path not in (STDIN, FROM_LOT):
                    yield path, options
