"""The scans of a lot that a study of the gauge reads."""

from __future__ import annotations

import math

from filmstress.errors import LotError
from filmstress.measure.directions import same_direction
from filmstress.records.lot import LotSpec
from filmstress.records.study import StudyScan
from filmstress.records.wafer import ScanSpec, WaferSpec


def repeated_scans(lot: LotSpec, state: str) -> tuple[StudyScan, ...]:
    """Every scan of one state; those along one azimuth of a wafer are repeats of each other.

    Parameters
    ----------
    lot : LotSpec
    state : str
        "pre" or "post".  One file named by several lines stands for one scan.

    Raises
    ------
    LotError
        There are no such scans.
    """
    found = [one for wafer in lot.wafers for one in _of_wafer(wafer, state)]
    if not found:
        raise LotError(f"names no scan of the state '{state}'", where=lot.path)
    return tuple(found)


def _of_wafer(wafer: WaferSpec, state: str) -> list[StudyScan]:
    scans: dict[tuple[object, ...], ScanSpec] = {}
    for line in wafer.lines:
        for one in line.states:
            if one.name == state and one.scan.path is not None:
                scans.setdefault((one.scan.path, one.scan.reading), one.scan)
    azimuths: list[float] = []
    numbers = []
    for scan in scans.values():
        azimuth = scan.azimuth.value
        alike = (i for i, one in enumerate(azimuths) if same_direction(one, azimuth))
        number = next(alike, len(azimuths))
        if number == len(azimuths):
            azimuths.append(azimuth)
        numbers.append(number)
    names = [
        wafer.id if len(azimuths) == 1 else f"{wafer.id} at {math.degrees(one):.4g} deg"
        for one in azimuths
    ]
    return [
        StudyScan(names[number], scan, dict(scan.labels))
        for number, scan in zip(numbers, scans.values(), strict=True)
    ]
