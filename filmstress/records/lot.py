"""A lot: what is asked of it, and what was found."""

from __future__ import annotations

from dataclasses import dataclass

from filmstress.records.notice import Notice
from filmstress.records.quantity import Estimate
from filmstress.records.result import StressResult
from filmstress.records.wafer import WaferSpec


@dataclass(frozen=True, slots=True)
class Specification:
    """Limits on a lot [Pa]; None is no limit.

    Attributes
    ----------
    lower, upper : float or None
        On the stress of every wafer.
    spread_max : float or None
        On the difference between any two wafers.
    within_max : float or None
        On the difference between any two azimuths of a wafer.
    confidence : float
        Probability of conformance that accepts; one less it rejects.
    """

    lower: float | None = None
    upper: float | None = None
    spread_max: float | None = None
    within_max: float | None = None
    confidence: float = 0.95


@dataclass(frozen=True, slots=True)
class LotSpec:
    """A lot file, read.

    Attributes
    ----------
    lot, recipe : str
        Names; the recipe may be empty.
    path : str
        Of the lot file.
    sha256 : str
        Of the lot file's bytes.
    wafers : tuple of WaferSpec
    specification : Specification or None
    deposition : tuple of (str, str)
        Free words about the deposition, for the record.
    """

    lot: str
    recipe: str
    path: str
    sha256: str
    wafers: tuple[WaferSpec, ...]
    specification: Specification | None = None
    deposition: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class WaferOutcome:
    """One wafer of a lot: its result, or why there is none.

    Attributes
    ----------
    result : StressResult or None
        None where its files could not be read or compared.
    refusal : Notice or None
        Why no stress is stated.
    conformance_probability : float or None
        That its stress lies within the limits; None without limits or without a stress.
    """

    id: str
    result: StressResult | None
    refusal: Notice | None
    conformance_probability: float | None = None

    @property
    def stress(self) -> Estimate | None:
        """The wafer's stress, where there is one."""
        return None if self.result is None else self.result.stress


@dataclass(frozen=True, slots=True)
class LotLimit:
    """A limit on the lot as a whole: its name, what was found [Pa], and its probability."""

    name: str
    limit: float
    found: float
    conformance_probability: float


@dataclass(frozen=True, slots=True)
class LotStatistics:
    """The lot's numbers.

    Attributes
    ----------
    measured, refused : int
        Wafers with and without a stress; witnesses are not counted.
    mean : Estimate or None
        Mean stress [Pa]; what the wafers share does not average away.
    standard_deviation : float or None
        Between wafers [Pa].
    lowest, highest : float or None
        [Pa].
    """

    measured: int
    refused: int
    mean: Estimate | None
    standard_deviation: float | None
    lowest: float | None
    highest: float | None


@dataclass(frozen=True, slots=True, eq=False)
class LotResult:
    """Everything found about a lot.

    Attributes
    ----------
    decision : str or None
        "accepted", "rejected", "undecided"; None without a specification.
    reason : str
        In words.
    """

    lot: LotSpec
    wafers: tuple[WaferOutcome, ...]
    statistics: LotStatistics
    limits: tuple[LotLimit, ...]
    decision: str | None
    reason: str
