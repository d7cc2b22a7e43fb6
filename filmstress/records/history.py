"""What is kept of a measured lot, so that a recipe can be followed over years."""

from __future__ import annotations

import math
from dataclasses import dataclass

from filmstress.records.budget import Term


@dataclass(frozen=True, slots=True)
class KeptParameter:
    """A process parameter as written, and in SI where it is a number.

    Attributes
    ----------
    name, text : str
    value : float or None
        [unit].
    unit : str
        SI unit word; empty where there is no number.
    """

    name: str
    text: str
    value: float | None = None
    unit: str = ""


@dataclass(frozen=True, slots=True)
class KeptWafer:
    """One wafer's result.

    Attributes
    ----------
    wafer : str
    role : str
        "product" or "witness".
    stress, stress_u : float or None
        [Pa]; None where none was stated, or its uncertainty is not known.
    stress_dof : float
    force, force_u : float or None
        Per width [N/m].
    film_thickness : float or None
        [m].
    conformance : float or None
        Probability that it keeps the limits of its lot.
    refusal : str
        Code; empty where a stress was stated.
    terms : tuple of Term
        Budget of the stress [Pa] (of the force [N/m] where there is no stress): what differences
        and means of wafers share.
    """

    wafer: str
    role: str = "product"
    stress: float | None = None
    stress_u: float | None = None
    stress_dof: float = math.inf
    force: float | None = None
    force_u: float | None = None
    film_thickness: float | None = None
    conformance: float | None = None
    refusal: str = ""
    terms: tuple[Term, ...] = ()


@dataclass(frozen=True, slots=True)
class KeptLot:
    """A measured lot as it goes into the history.

    Attributes
    ----------
    record_sha256 : str
        Of the record it comes from: the same record is kept once.
    lot, recipe : str
    recorded_at : str
        Time of the record, UTC, "2026-03-14T09:30:00Z".
    made_on : str
        Date of the deposition where stated; empty otherwise.
    tool : str
        Empty where not stated.
    decision : str or None
    reason : str
    lower, upper : float or None
        Limits on the stress [Pa].
    parameters : tuple of KeptParameter
    wafers : tuple of KeptWafer
    document : str
        The whole result as JSON text.
    """

    record_sha256: str
    lot: str
    recipe: str
    recorded_at: str
    made_on: str = ""
    tool: str = ""
    decision: str | None = None
    reason: str = ""
    lower: float | None = None
    upper: float | None = None
    parameters: tuple[KeptParameter, ...] = ()
    wafers: tuple[KeptWafer, ...] = ()
    document: str = "{}"

    @property
    def at(self) -> str:
        """Its place in time: when the film was made, or when it was recorded."""
        return self.made_on or self.recorded_at


@dataclass(frozen=True, slots=True)
class Found:
    """A wafer of the history with the lot it belongs to.

    Attributes
    ----------
    number : int
        Of the lot in the history.
    wafer : KeptWafer
    lot, recipe, at, tool : str
    lower, upper : float or None
        Limits of the lot [Pa].
    superseded : bool
        Whether a later entry corrects the lot.
    """

    number: int
    wafer: KeptWafer
    lot: str
    recipe: str
    at: str
    tool: str
    lower: float | None = None
    upper: float | None = None
    superseded: bool = False


@dataclass(frozen=True, slots=True)
class FoundLot:
    """A lot of the history.

    Attributes
    ----------
    number : int
    lot : KeptLot
        Without its wafers.
    wafers : int
        How many it holds.
    supersedes, superseded_by : int or None
        Numbers of the entries it corrects, and that corrects it.
    why : str
        Reason of the correction.
    """

    number: int
    lot: KeptLot
    wafers: int
    supersedes: int | None = None
    superseded_by: int | None = None
    why: str = ""
