"""The scans of a state as written, and which of two states are of one line."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from filmstress.errors import RefusedInput
from filmstress.inputs.faults import FaultList
from filmstress.inputs.keys import keys_of
from filmstress.inputs.names import suggest
from filmstress.inputs.readers import read_text, shown
from filmstress.inputs.scan_parts import LineInput
from filmstress.inputs.settings import Setting, Settings
from filmstress.records.quantity import Measured
from filmstress.stacks.keys import SAME_LINE_RAD


@dataclass(frozen=True, slots=True)
class ScanEntry:
    """One scan of a state: its file, its own settings, and the line it runs along [rad]."""

    file: str
    settings: tuple[Setting, ...]
    azimuth: float
    where: str


def read_scans(values: object, place: str, faults: FaultList) -> list[ScanEntry]:
    """The entries of ``scans``; those with faults are left out."""
    if not isinstance(values, list) or not all(isinstance(one, Mapping) for one in values):
        faults.add(
            RefusedInput(
                f"{shown(values)} came; a list of scans is wanted",
                where=f"{place}, scans",
                hint='write  scans = [{ azimuth = "0 deg", file = "bare-000.csv" }]',
            )
        )
        return []
    found = [
        _scan(one, f"{place}, scan {number}", faults) for number, one in enumerate(values, start=1)
    ]
    return [one for one in found if one is not None]


def _scan(values: Mapping[str, object], where: str, faults: FaultList) -> ScanEntry | None:
    known = {name: key for name, key in keys_of("scan").items() if key.per_scan}
    settings = []
    for written, raw in values.items():
        if written in known:
            settings.append(Setting(known[written], raw, f"{where}, {written}", ""))
        elif written != "file":
            hint = suggest(written, ("file", *known))
            faults.add(RefusedInput(f"unknown key '{written}'", where=where, hint=hint))
    if "file" not in values:
        if all(written in known for written in values):
            faults.add(
                RefusedInput(
                    "the scan names no file", where=where, hint='write  file = "bare-000.csv"'
                )
            )
        return None
    before = len(faults)
    file = faults.attempt(
        lambda: read_text(
            values["file"],
            where=f"{where}, file",
            example="bare-000.csv",
            wanted="the name of a file",
        ),
        "",
    )
    azimuth = 0.0
    stated = next((one for one in settings if one.key.name == "azimuth"), None)
    if stated is not None:
        read = faults.attempt(stated.read, None)
        azimuth = read.value if isinstance(read, Measured) else 0.0
    return ScanEntry(file, tuple(settings), azimuth, where) if len(faults) == before else None


def paired(
    before: Sequence[ScanEntry],
    after: Sequence[ScanEntry],
    name: str,
    where: str,
    faults: FaultList,
) -> list[LineInput]:
    """Lines that were scanned in two states, in the order of the first.

    Parameters
    ----------
    before, after : sequence of ScanEntry
        Each scan of the one has its own of the other, along the same azimuth.
    name : str
        Of the first state, for messages.
    where : str
        Place of the second.
    faults : FaultList
    """
    left, lines = list(after), []
    for one in before:
        other = next((two for two in left if _same_line(one, two)), None)
        if other is None:
            faults.add(
                RefusedInput(
                    f"the line at {math.degrees(one.azimuth):.4g} deg is scanned in state "
                    f"'{name}', and not in this one",
                    where=f"{where}, scans",
                    hint="name a scan of the same line in every scanned state",
                )
            )
            continue
        left.remove(other)
        settings = Settings()
        for scan, state in ((one, "pre"), (other, "post")):
            for setting in scan.settings:
                settings.put(setting, state)
        lines.append(LineInput(settings, {"pre": one.file, "post": other.file}, other.where))
    for other in left:
        faults.add(
            RefusedInput(
                f"the line at {math.degrees(other.azimuth):.4g} deg is scanned here, and not in "
                f"state '{name}'",
                where=other.where,
                hint="name a scan of the same line in every scanned state",
            )
        )
    return lines


def _same_line(one: ScanEntry, other: ScanEntry) -> bool:
    return abs(math.remainder(one.azimuth - other.azimuth, math.pi)) < SAME_LINE_RAD
