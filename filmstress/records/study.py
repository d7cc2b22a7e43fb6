"""Readings of wafers for a study of a gauge."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from filmstress.records.wafer import ScanSpec


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading.

    Attributes
    ----------
    wafer : str
        What was read: readings of one name are repeats.
    value : float
        [unit of the readings].
    labels : mapping of str to str
        Who, on what and when: {"operator": "A", "date": "2026-03-14"}.
    """

    wafer: str
    value: float
    labels: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class StudyScan:
    """A scan that is to become a reading: ``wafer`` and ``labels`` as there."""

    wafer: str
    scan: ScanSpec
    labels: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Readings:
    """Everything that was read.

    Attributes
    ----------
    source : str
        File, or place of the history.
    what : str
        "bow", "stress".
    unit : str
        SI unit; empty for numbers without one.
    rows : tuple of Reading
    length : float or None
        What a bow is counted over [m], where it was found from scans.
    limits : (float, float) or None
        Of the specification that stands with them [unit].
    remarks : tuple of str
        What a reader must know of them, in sentences.
    files : tuple of (str, str)
        Path and SHA-256 of every file that was read.
    """

    source: str
    what: str
    unit: str
    rows: tuple[Reading, ...]
    length: float | None = None
    limits: tuple[float, float] | None = None
    remarks: tuple[str, ...] = ()
    files: tuple[tuple[str, str], ...] = ()
