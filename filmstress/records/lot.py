"""A lot: what is asked of it, and what was found."""

from __future__ import annotations

from dataclasses import dataclass

from filmstress.records.notice import Notice
from filmstress.records.quantity import Estimate, Measured
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
    would_decide : tuple of WouldDecide
        For each wafer that is too close to a limit to tell.
    """

    lot: LotSpec
    wafers: tuple[WaferOutcome, ...]
    statistics: LotStatistics
    limits: tuple[LotLimit, ...]
    decision: str | None
    reason: str
    would_decide: tuple[WouldDecide, ...] = ()
