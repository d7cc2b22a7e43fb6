"""What is compared: independent values of one selection of the history, with what they share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from filmstress.records.budget import Term

Per = Literal["lot", "wafer"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Selected:
    """One side of a comparison.

    Attributes
    ----------
    name : str
        As the user wrote it.
    per : "lot" or "wafer"
        What one value is: the mean of a lot, or (single lots compared) a wafer.
    values : tuple of float
        Stress [Pa].
    labels : tuple of str
        Lot or wafer of each.
    terms : tuple of tuples of Term
        Budget of each value [Pa].
    entries : tuple of int
        Numbers of the lots in the history.
    wafers : int
        How many wafers stand behind the values.
    without : int
        Wafers left out because they carry no stress.
    again : tuple of int
        Entries passed over: a later one was computed from the same scans.
    """

    name: str
    per: Per
    values: tuple[float, ...]
    labels: tuple[str, ...]
    terms: tuple[tuple[Term, ...], ...]
    entries: tuple[int, ...]
    wafers: int
    without: int
    again: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """Mean stress of lots against one process parameter.

    Attributes
    ----------
    stress : Selected
        One value a lot.
    parameter, unit : str
        Name of the parameter, and its SI unit word; "1" for a bare number.
    word : str
        Unit word in which settings are shown; empty for a bare number.
    words : tuple of str
        Unit words in which the lots state it, most used first.
    settings : tuple of float
        The parameter of each lot [unit].
    without : int
        Lots left out because they do not state the parameter as a number.
    """

    stress: Selected
    parameter: str
    unit: str
    word: str
    words: tuple[str, ...]
    settings: tuple[float, ...]
    without: int
