"""What came of recomputing a recorded lot."""

from __future__ import annotations

from dataclasses import dataclass

from filmstress.records.quantity import Estimate


@dataclass(frozen=True, slots=True)
class Difference:
    """Something that is no longer as it was recorded.

    Attributes
    ----------
    about : str
        "record", "chain", "lot file", "wafer table", "scan", "substrate table", "wafer",
        "decision" or "results".
    name : str
        The file, wafer or entry concerned; may be empty.
    message : str
        What differs, in words that follow on the name.
    then, now : str or None
        What was recorded and what was found, where each is one short text.
    """

    about: str
    name: str
    message: str
    then: str | None = None
    now: str | None = None


@dataclass(frozen=True, slots=True)
class WaferThenNow:
    """One wafer as recorded and as recomputed.

    Attributes
    ----------
    id : str
    quantity : str
        "stress" [Pa], or "force_per_width" [N/m] where no stress was stated.
    then, now : Estimate or None
    refusal_then, refusal_now : str or None
        Code of the refusal.
    same : bool
        Whether they agree within the tolerance.
    """

    id: str
    quantity: str
    then: Estimate | None
    now: Estimate | None
    refusal_then: str | None
    refusal_now: str | None
    same: bool

    @property
    def moved(self) -> float | None:
        """Now minus then [unit]."""
        return self.now.value - self.then.value if self.now and self.then else None

    @property
    def share(self) -> float | None:
        """The move as a share of the expanded uncertainty then [1]."""
        if self.moved is None or self.then is None or not self.then.expanded:
            return None
        return self.moved / self.then.expanded


@dataclass(frozen=True, slots=True)
class Comparison:
    """Results recomputed against those recorded.

    Attributes
    ----------
    wafers : tuple of WaferThenNow
    decision_then, decision_now : str or None
    differences : tuple of Difference
    numbers : int
        Numbers compared.
    unequal : int
        How many of them are not the same to the last bit.
    largest_share : float
        Largest move of a judged quantity, as a share of its expanded uncertainty.
    tolerance : float
        The share up to which a quantity is the same.
    """

    wafers: tuple[WaferThenNow, ...]
    decision_then: str | None
    decision_now: str | None
    differences: tuple[Difference, ...]
    numbers: int
    unequal: int
    largest_share: float
    tolerance: float


@dataclass(frozen=True, slots=True)
class Verification:
    """Everything found about a record.

    Attributes
    ----------
    path, sha256 : str
        Of the record; its SHA-256 as it states it.
    number, records : int
        Its number, and how many records its folder holds.
    lot, time, version : str
        As recorded.
    folder : str
        Where the lot's files were looked for.
    files : int
        Number of files recorded: lot file, wafer table, scans and flats.
    differences : tuple of Difference
        Empty where everything is the same.
    notes : tuple of str
        What differs without touching the verdict, in words.
    comparison : Comparison or None
        None where the results could not be recomputed.
    """

    path: str
    sha256: str
    number: int
    records: int
    lot: str
    time: str
    version: str
    folder: str
    files: int
    differences: tuple[Difference, ...]
    notes: tuple[str, ...]
    comparison: Comparison | None

    @property
    def same(self) -> bool:
        """Whether nothing differs."""
        return not self.differences
