"""Stress along the scans, and how far the single number is from the mean over the area."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from filmstress.records.budget import Budget
from filmstress.records.quantity import Estimate

Floats = NDArray[np.float64]


class Relation(StrEnum):
    """What turns the curvature along a scan into stress."""

    AXISYMMETRIC = "axisymmetric"
    """Curvature here and mean over the wafer, for a film that varies with the radius."""
    LOCAL = "local"
    """Stoney's equation at every place by itself, with a bound of what it leaves out."""


@dataclass(frozen=True, slots=True)
class Neglected:
    """Something a relation leaves out, and the largest error it can make of the stress there.

    ``limit`` is a half-width [unit of the profile].
    """

    name: str
    limit: float


@dataclass(frozen=True, slots=True, eq=False)
class StressProfile:
    """Stress along one azimuth, repeats averaged.

    Attributes
    ----------
    azimuth : float
        [rad].
    x : ndarray, shape (n,)
        Places from the wafer's centre along the azimuth [m].
    value, u : ndarray, shape (n,)
        Stress [Pa], or force per width [N/m] where the film's thickness is not stated; and its
        standard uncertainty.
    low, high : ndarray, shape (n,)
        Coverage interval at each place by itself (pointwise, 95 %).
    unit : str
        "Pa" or "N/m".
    resolution : float
        Variations over less than this are not seen [m].
    """

    azimuth: float
    x: Floats
    value: Floats
    u: Floats
    low: Floats
    high: Floats
    unit: str
    resolution: float


@dataclass(frozen=True, slots=True, eq=False)
class UnevenStress:
    """How the stress varies over the wafer, as far as the scans tell.

    Attributes
    ----------
    relation : Relation
        Used for the profiles.
    because : str
        Why this one.
    profiles : tuple of StressProfile
        One for each azimuth.
    neglected : tuple of Neglected
        What the relation leaves out; in the bands.
    area_mean : Estimate or None
        Mean over the area that the film covers; None by the local relation.
    difference : Estimate or None
        That mean less the single number.
    significant : bool
        Whether the difference is more than the noise of the scans makes (95 %), whatever the film
        does beyond them.
    matters : bool
        Whether it is significant, or more than a quarter of the single number's expanded
        uncertainty.
    lines : int
        How many scanned lines the difference was found in.
    odd_share : float
        Part of the stress's departure from its mean that is odd about the centre, rms over rms [1].
    odd_significant : bool
        Whether that is more than noise: the film then varies not with the radius alone.
    budget : Budget
        Of the area's mean; empty without one.
    """

    relation: Relation
    because: str
    profiles: tuple[StressProfile, ...]
    neglected: tuple[Neglected, ...]
    area_mean: Estimate | None
    difference: Estimate | None
    significant: bool
    matters: bool
    lines: int
    odd_share: float
    odd_significant: bool
    budget: Budget
