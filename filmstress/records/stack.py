"""A stack: the states that one wafer goes through, and what was found of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from filmstress.records.budget import Budget, Term
from filmstress.records.notice import Notice
from filmstress.records.quantity import Estimate, Measured
from filmstress.records.result import StressResult
from filmstress.records.wafer import Face, FilmSpec, SubstrateSpec, WaferSpec


class Known(StrEnum):
    """Where a number comes from."""

    MEASURED = "measured"
    STATED = "stated"
    RECORDED = "recorded"
    PREDICTED = "predicted"


@dataclass(frozen=True, slots=True)
class RecipeAsked:
    """A recorded recipe that a layer names in place of its stress.

    Attributes
    ----------
    recipe : str
    lots : tuple of str
        Only these; empty: all.
    since, until : str
        First and last day of the lots (ISO 8601); empty does not restrict.
    """

    recipe: str
    lots: tuple[str, ...] = ()
    since: str = ""
    until: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """What recorded lots of a recipe tell of its next wafer, one of a lot that is yet to come.

    Attributes
    ----------
    asked : RecipeAsked
    stress : Measured
        Mean of the lots' means [Pa]; ``u`` is that of the next wafer.
    terms : tuple of Term
        Of the stress: the mean of the recipe, the next wafer's departure from it, and every input
        that the lots share.
    lots : tuple of str
        Names of the lots behind it.
    wafers : int
        How many wafers they hold with a stress.
    spread, within : float, float or None
        Standard deviation of one wafer about the recipe's mean, and of the wafers of one lot [Pa];
        the latter None where no lot has two wafers.
    film : mapping of str to Measured
        Thickness of a next film [m] and its elastic constants, as far as they are recorded.
    """

    asked: RecipeAsked
    stress: Measured
    terms: tuple[Term, ...]
    lots: tuple[str, ...]
    wafers: int
    spread: float
    within: float | None
    film: Mapping[str, Measured]


@dataclass(frozen=True, slots=True)
class Layer:
    """One film of the stack as stated.

    Attributes
    ----------
    name : str
        Of the state that it came in.
    film : FilmSpec
    stress : Measured or None
        Mean stress that it carries after its own deposition [Pa]; None: measured, or to be found.
    expansion : Measured or None
        Mean linear expansion between the two temperatures [1/K].
    deposited_at, measured_at : Measured or None
        [K].
    recorded : Recorded or None
        Where its stress was taken from, if from a history.
    """

    name: str
    film: FilmSpec
    stress: Measured | None = None
    expansion: Measured | None = None
    deposited_at: Measured | None = None
    measured_at: Measured | None = None
    recorded: Recorded | None = None

    @property
    def face_sign(self) -> int:
        """+1 on the scanned face, -1 on the other one."""
        return 1 if self.film.face is Face.UP else -1


@dataclass(frozen=True, slots=True)
class StackState:
    """One state as stated, and how it is measured.

    Attributes
    ----------
    name : str
    layer : Layer or None
        The film that came.
    strips : str
        Name of the layer that went; or "".
    changes : str
        Name of the layer that a step without layer and strip changes, if it is known; or "".
    scanned : bool
    step : WaferSpec or None
        The pair of this state and the one before, where both are scanned.
    whole : WaferSpec or None
        The pair of this state and the first scanned one.
    """

    name: str
    layer: Layer | None = None
    strips: str = ""
    changes: str = ""
    scanned: bool = False
    step: WaferSpec | None = None
    whole: WaferSpec | None = None


@dataclass(frozen=True, slots=True)
class Balance:
    """A bow that is wanted [m], over the scan, and the layer that is to bring it."""

    target: Measured
    layer: Layer


@dataclass(frozen=True, slots=True)
class StackSpec:
    """A stack file.

    Attributes
    ----------
    name, path, sha256 : str
    substrate : SubstrateSpec
    substrate_expansion : Measured or None
        Mean linear expansion [1/K]; None: silicon's own, where it is silicon.
    azimuths : tuple of float
        Of the lines [rad]; (0,) where nothing is scanned.
    length : float or None
        Of the scan [m], as stated.
    bare_bow : Measured or None
        Of the first state where that is not scanned [m].
    states : tuple of StackState
        In their order.
    balance : Balance or None
    notes : tuple of str
        Defaults that were filled in.
    """

    name: str
    path: str
    sha256: str
    substrate: SubstrateSpec
    substrate_expansion: Measured | None
    azimuths: tuple[float, ...]
    length: float | None
    bare_bow: Measured | None
    states: tuple[StackState, ...]
    balance: Balance | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class StateFound:
    """What was found of one state; what could not be found is None.

    Attributes
    ----------
    state : StackState
    layer : Layer or None
        The film that came, went or changed.
    known : Known or None
        Where stress and force come from; None for the first state.
    stress : Estimate or None
        Of the layer that came, as it carries it after its own deposition [Pa]; its change where it
        was changed; where it was stripped, the stress that went with it.
    force : Estimate or None
        What the step added per width, counted with the sign of the face [N/m].
    total : Estimate or None
        Sum over all steps so far [N/m].
    thermal, intrinsic : Estimate or None
        Parts of the layer's stress [Pa].
    bow : Estimate or None
        Over the scan, positive for a bowl [m].
    bow_known : Known
        Measured or predicted.
    bow_predicted : Estimate or None
        Prediction beside a measured bow, where the step's force is known otherwise [m].
    budget : Budget or None
        Of the stress, or of the force where there is no stress.
    measured : StressResult or None
        The measurement of the step.
    """

    state: StackState
    layer: Layer | None
    known: Known | None
    stress: Estimate | None
    force: Estimate | None
    total: Estimate | None
    thermal: Estimate | None
    intrinsic: Estimate | None
    bow: Estimate | None
    bow_known: Known
    bow_predicted: Estimate | None
    budget: Budget | None
    measured: StressResult | None


@dataclass(frozen=True, slots=True, eq=False)
class BalanceFound:
    """The layer that balances the bow.

    Attributes
    ----------
    balance : Balance
    thickness : Estimate or None
        [m]; None where no thickness does it.
    bow : Estimate or None
        What the bow would then be [m].
    budget : Budget or None
        Of the thickness.
    refusal : str
        Why there is no thickness, and what to do; or "".
    """

    balance: Balance
    thickness: Estimate | None
    bow: Estimate | None
    budget: Budget | None
    refusal: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class StackResult:
    """Everything found about a stack.

    Attributes
    ----------
    stack : StackSpec
    substrate : str
        Its label.
    modulus : Measured
        Biaxial modulus that the lines see [Pa].
    length : float
        Over which the bows are told [m].
    states : tuple of StateFound
    balance : BalanceFound or None
    warnings : tuple of Notice
    """

    stack: StackSpec
    substrate: str
    modulus: Measured
    length: float
    states: tuple[StateFound, ...]
    balance: BalanceFound | None
    warnings: tuple[Notice, ...]

    @property
    def refused(self) -> bool:
        """Whether something asked for could not be told."""
        lacking = any(one.known is not None and one.force is None for one in self.states)
        if self.stack.balance is None:
            return lacking
        return lacking or self.balance is None or self.balance.thickness is None
