"""What two scans of the bare wafer on two supports say: its own weight as a calibration."""

from __future__ import annotations

from dataclasses import dataclass

from filmstress.records.budget import Budget
from filmstress.records.curvature import CurvatureChange
from filmstress.records.quantity import Estimate


@dataclass(frozen=True, slots=True)
class Calibrated:
    """Force per width [N/m] and stress [Pa] (None without a film thickness) by one route.

    ``budget`` is that of the stress, or of the force where there is no stress.
    """

    force_per_width: Estimate
    stress: Estimate | None
    budget: Budget


@dataclass(frozen=True, slots=True, eq=False)
class WeightCalibration:
    """The film by the wafer's own weight, beside the ordinary result.

    Attributes
    ----------
    by_weight : Calibrated
        Without the substrate's thickness, its modulus as a whole and the height scale.
    combined : Calibrated or None
        Weighted mean with the ordinary result, what they share taken into account; None where the
        two do not agree.
    weight_share : float or None
        Share of ``by_weight`` in it [1].
    stiffness_ratio : Estimate
        Stiffness Q h_s^2 that the weight sees over the one that was stated [1]; its uncertainty
        holds that of both.
    ratio_budget : Budget
        Of ``stiffness_ratio``.
    thickness_seen : Estimate
        Substrate thickness that would make them equal, with the modulus as stated [m].
    change_seen : Estimate
        Change of curvature from the first support to the second one [1/m].
    change_expected : float
        The same as the stated stiffness has it [1/m].
    equal_force : float
        Film force per width that would bend the wafer as much as its weight did [N/m], signed.
    normalised_difference : float
        (``stiffness_ratio`` - 1) over its expanded uncertainty; between -1 and 1 the two agree.
    stretched : float
        Share of the expected change that is owed to more than linear bending [1].
    lines : tuple of CurvatureChange
        The bare scans, second support less first.  Their ``change`` is what the stated weight left.
    """

    by_weight: Calibrated
    combined: Calibrated | None
    weight_share: float | None
    stiffness_ratio: Estimate
    ratio_budget: Budget
    thickness_seen: Estimate
    change_seen: Estimate
    change_expected: float
    equal_force: float
    normalised_difference: float
    stretched: float
    lines: tuple[CurvatureChange, ...]

    @property
    def agrees(self) -> bool:
        """Whether stated stiffness and weight agree."""
        return abs(self.normalised_difference) <= 1.0
