"""A measurement that is yet to be made: what is planned, and what it would tell."""

from __future__ import annotations

from dataclasses import dataclass

from filmstress.records.budget import Budget
from filmstress.records.notice import Notice
from filmstress.records.quantity import Estimate
from filmstress.records.wafer import WaferSpec


@dataclass(frozen=True, slots=True, kw_only=True)
class Instrument:
    """What the instrument does, as its user states it.

    Attributes
    ----------
    length_m : float
        Of a scan [m].
    points : int
        Of a scan.
    noise_m : float
        Of single points, standard deviation [m].
    drift_m, drift_length_m : float
        Correlated noise: standard deviation and correlation length [m].
    waviness_m, waviness_length_m : float
        Of the wafer's face: rms and correlation length [m]; by it the scans find one another.
    bare_bow_m : float
        Bow of the bare wafer over the scan [m].
    height_range_m : float or None
        Greatest difference of heights that a scan may have [m].
    repeats : int
        Scans of every line in each state.
    """

    length_m: float
    points: int = 4001
    noise_m: float = 5e-9
    drift_m: float = 5e-9
    drift_length_m: float = 5e-3
    waviness_m: float = 50e-9
    waviness_length_m: float = 2e-3
    bare_bow_m: float = 0.0
    height_range_m: float | None = None
    repeats: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Chances:
    """How a measurement at a true stress would be decided against limits.

    The three add to 1.
    """

    accepted: float
    rejected: float
    undecided: float


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that could be done otherwise, and what the expanded uncertainty would be.

    Attributes
    ----------
    what : str
        "substrate thickness", "film thickness", "scan length", "repeats", ...
    now, then : float
        Standard uncertainty, length or number as planned, and as it could be [unit].
    unit : str
        SI; "1" for a number.
    expanded : float
        Expanded uncertainty of the stress then [Pa] (of the force [N/m] without a film thickness).
    chances : Chances or None
        Against the limits then.
    """

    what: str
    now: float
    then: float
    unit: str
    expanded: float
    chances: Chances | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """What a planned measurement would tell.

    Attributes
    ----------
    wafer : WaferSpec
        As stated.
    instrument : Instrument
    expected : float
        True stress it is planned for [Pa].
    stress : Estimate
        What would be found: the expected stress with its interval [Pa].
    budget : Budget
        Of it: medians over the trials.
    trials : int
        Simulated measurements that stand behind it.
    bow_change, bow_after : float
        Over the scan [m].
    fits : bool or None
        Whether the higher scan stays within the instrument's range; None where not stated.
    deflection : float or None
        S, the film force in units of what bends the wafer by its thickness [1]; None without a
        diameter.
    stiffening : float or None
        How much more force than a linear plate the wafer needs for that bow [1].
    sag : float or None
        Of the wafer by its own weight on its support, curvature over the scan [1/m].
    least_stress : float
        Smallest stress that would be told from zero 19 times in 20 [Pa].
    chances : Chances or None
        Against the limits.
    lower, upper, confidence : float or None
        Limits [Pa].
    changes : tuple of Change
        What could be done otherwise, best first.
    warnings : tuple of Notice
        Those that the measurement would give.
    refusal : Notice or None
        Why the measurement would carry no stress.
    """

    wafer: WaferSpec
    instrument: Instrument
    expected: float
    stress: Estimate
    budget: Budget
    trials: int
    bow_change: float
    bow_after: float
    fits: bool | None
    deflection: float | None
    stiffening: float | None
    sag: float | None
    least_stress: float
    chances: Chances | None
    lower: float | None
    upper: float | None
    confidence: float
    changes: tuple[Change, ...]
    warnings: tuple[Notice, ...]
    refusal: Notice | None = None
