"""A lot: what is asked of it, and what was found."""

from __future__ import annotations

from dataclasses import dataclass

from filmstress.records.notice import Notice
from filmstress.records.quantity import Estimate, Measured
from filmstress.records.result import StressResult
from filmstress.records.wafer import WaferSpec


@dataclass(frozen=True, slots=True)
class Sampling:
    """What the wafers measured are to say of those that were not.

    Attributes
    ----------
    content : float
        Share of the lot's wafers that must lie within the limits on the stress ...
    confidence : float
        ... with this confidence.
    lot_size : int or None
        Wafers in the lot; where all of them are measured, nothing is inferred.
    aql : float or None
        Share of wafers outside the limits with which a lot should still be accepted ...
    producer_risk : float
        ... all but this often; they say how many wafers to measure.
    """

    content: float
    confidence: float = 0.95
    lot_size: int | None = None
    aql: float | None = None
    producer_risk: float = 0.05


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
    sampling : Sampling or None
        Where the wafers are a sample of the lot.
    """

    lower: float | None = None
    upper: float | None = None
    spread_max: float | None = None
    within_max: float | None = None
    confidence: float = 0.95
    sampling: Sampling | None = None


@dataclass(frozen=True, slots=True)
class Parameter:
    """One entry of a lot's [deposition].

    Attributes
    ----------
    name : str
        Dotted where it stood in a table of its own.
    text : str
        As written.
    quantity : Measured or None
        In SI, where the text is a number with a known unit, or a bare TOML number.
    """

    name: str
    text: str
    quantity: Measured | None = None


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
    deposition : tuple of Parameter
        How the film was made: free words and process parameters.
    table : (str, str) or None
        Path and SHA-256 of the wafer table, where there is one.
    """

    lot: str
    recipe: str
    path: str
    sha256: str
    wafers: tuple[WaferSpec, ...]
    specification: Specification | None = None
    deposition: tuple[Parameter, ...] = ()
    table: tuple[str, str] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class WaferOutcome:
    """One wafer of a lot: its result, or why there is none.

    Attributes
    ----------
    wafer : WaferSpec
        What was asked.
    result : StressResult or None
        None where its files could not be read or compared.
    refusal : Notice or None
        Why no stress is stated.
    conformance_probability : float or None
        That its stress lies within the limits; None without limits or without a stress.
    """

    wafer: WaferSpec
    result: StressResult | None
    refusal: Notice | None
    conformance_probability: float | None = None

    @property
    def id(self) -> str:
        """Name of the wafer."""
        return self.wafer.id

    @property
    def is_witness(self) -> bool:
        """Whether the wafer carries no film and only watches over the measurement."""
        return self.wafer.role == "witness"

    @property
    def stress(self) -> Estimate | None:
        """The wafer's stress, where there is one."""
        return None if self.result is None else self.result.stress


@dataclass(frozen=True, slots=True)
class LotLimit:
    """A limit on the lot as a whole.

    Attributes
    ----------
    name : str
        "spread_max" or "within_max".
    limit : float
        [Pa].
    found : float or None
        Largest difference found [Pa]; None where there was nothing to compare.
    conformance_probability : float or None
        That the limit is kept, as far as it could be judged.
    gap : str
        What could not be judged, in words; a lot with a gap is not accepted.
    """

    name: str
    limit: float
    found: float | None
    conformance_probability: float | None
    gap: str = ""


@dataclass(frozen=True, slots=True)
class WouldDecide:
    """What would settle an undecided wafer, if its stress stayed where it is.

    Attributes
    ----------
    wafer : str
    stress_u : float
        Standard uncertainty of the stress that would decide [Pa].
    input, unit : str
        The input to know better; empty where no single one is enough.
    u, needed_u : float
        Its standard uncertainty now, and what would decide [unit].
    """

    wafer: str
    stress_u: float
    input: str = ""
    unit: str = ""
    u: float = 0.0
    needed_u: float = 0.0


@dataclass(frozen=True, slots=True)
class LotStatistics:
    """The lot's numbers.

    Attributes
    ----------
    measured, refused : int
        Wafers with and without a stress; witnesses are not counted.
    mean : Estimate or None
        Mean stress of the wafers measured [Pa]; what they share does not average away.
    standard_deviation : float or None
        Between wafers [Pa].
    lowest, highest : float or None
        [Pa].
    shared_u : float
        Standard uncertainty that the mean has from what several wafers share [Pa].
    process_mean : Estimate or None
        The same mean as an estimate of the process that the wafers came from [Pa]: what they
        share, and their scatter over the square root of their number.
    mean_conformance : float or None
        Probability that the mean stress of the wafers measured lies within the limits.
    """

    measured: int
    refused: int
    mean: Estimate | None
    standard_deviation: float | None
    lowest: float | None
    highest: float | None
    shared_u: float = 0.0
    process_mean: Estimate | None = None
    mean_conformance: float | None = None


@dataclass(frozen=True, slots=True)
class SampleStatement:
    """What the wafers measured say of all wafers made like them, their stress taken as normal.

    Attributes
    ----------
    measured : int
        Wafers of the sample.
    low, high : float or None
        Tolerance limits [Pa]: at least the content asked lies between them, with the confidence
        asked; None on the side that has no limit.
    reached : float or None
        Confidence that at least the content asked lies within the limits; None without limits.
    enough : int or None
        Wafers of the same mean and scatter that would show it; None where it is shown, or where
        no number would do.
    planned : int or None
        Wafers that a plan through the AQL and its producer's risk wants; None without an AQL, or
        where no number would do.
    accepts_aql : float or None
        Probability with which a lot at the AQL is shown to be good by as many as were measured.
    gap : str
        Why nothing can be said, in words.
    """

    measured: int
    low: float | None = None
    high: float | None = None
    reached: float | None = None
    enough: int | None = None
    planned: int | None = None
    accepts_aql: float | None = None
    gap: str = ""


@dataclass(frozen=True, slots=True)
class LotRisk:
    """How likely the decision on a lot is wrong, given what was measured (JCGM 106:2012, 9.2).

    Nothing is taken as known of the process that the wafers came from.

    Attributes
    ----------
    all_conform : float
        Probability that the stress of every wafer measured lies within the limits.
    consumer : float or None
        Of an accepted lot: that a wafer of it is outside all the same.
    producer : float or None
        Of a rejected lot: that all its wafers are inside all the same.
    """

    all_conform: float
    consumer: float | None = None
    producer: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class LotResult:
    """Everything found about a lot.

    Attributes
    ----------
    decision : str or None
        "accepted", "rejected", "undecided"; None without a specification.
    reason : str
        In words.
    would_decide : tuple of WouldDecide
        For each wafer that is too close to a limit to tell.
    sample : SampleStatement or None
        Where the specification says that the wafers are a sample.
    risk : LotRisk or None
        Where there are limits on the stress and every wafer has one.
    """

    lot: LotSpec
    wafers: tuple[WaferOutcome, ...]
    statistics: LotStatistics
    limits: tuple[LotLimit, ...]
    decision: str | None
    reason: str
    would_decide: tuple[WouldDecide, ...] = ()
    sample: SampleStatement | None = None
    risk: LotRisk | None = None
