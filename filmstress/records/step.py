"""Steps in height scans, and the film thickness that they tell."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from filmstress.records.budget import Budget
from filmstress.records.notice import Notice
from filmstress.records.quantity import Estimate, Measured
from filmstress.records.scan import Scan


class Reference(StrEnum):
    """Which side of a step is the substrate; left and right are those of the first edge."""

    LOW = "low"
    HIGH = "high"
    LEFT = "left"
    RIGHT = "right"


class StepKind(StrEnum):
    """What a step is: a groove in the film, a stripe of it, or one edge where it ends."""

    GROOVE = "groove"
    STRIPE = "stripe"
    EDGE = "edge"


@dataclass(frozen=True, slots=True)
class Part:
    """A stretch of the scan that was used, from ``low`` to ``high`` [m], and what lies there."""

    low: float
    high: float
    on_film: bool


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """One step of a scan, evaluated.

    Attributes
    ----------
    kind : StepKind
    edges : tuple of float
        Its edges [m], in the file's positions: two, or the one.
    width : float
        Between the edges; of one edge: of the side used, as long as the other [m].
    parts : tuple of Part
        What was used, from left to right.
    full : bool
        Whether the parts are those of ISO 5436-1, type A1, in full length.
    thickness : float
        Film less substrate [m].
    u, dof : float
        Standard uncertainty by the residuals alone [m], and its degrees of freedom.
    tilt : float
        Of the line both levels share [1].
    bow : float
        Of the parabola both levels share, over the window; 0 for a straight line [m].
    other_thickness : float
        What the other line gives: straight where a parabola was fitted, and the reverse [m].
    centre, level, curvature : float
        Middle of the window, height of the substrate there, curvature of both levels
        [m, m, 1/m].
    residual_rms : float
        [m].
    points, masked : int
        Points used, and those in the parts that were masked as dust.
    """

    kind: StepKind
    edges: tuple[float, ...]
    width: float
    parts: tuple[Part, ...]
    full: bool
    thickness: float
    u: float
    dof: float
    tilt: float
    bow: float
    other_thickness: float
    centre: float
    level: float
    curvature: float
    residual_rms: float
    points: int
    masked: int

    def levelled(self, x: NDArray[np.float64], z: NDArray[np.float64]) -> NDArray[np.float64]:
        """Heights above the substrate [m], from heights ``z`` at ``x`` [m]."""
        d = x - self.centre
        out: NDArray[np.float64] = z - self.level - d * (self.tilt + 0.5 * self.curvature * d)
        return out


@dataclass(frozen=True, slots=True, eq=False)
class SteppedScan:
    """One scan with its steps.

    Attributes
    ----------
    scan : Scan
        Turned over where its substrate was said to be the higher level.
    edges : tuple of float
        All edges [m].
    stated : bool
        Whether the edges were stated.
    steps : tuple of Step
    """

    scan: Scan
    edges: tuple[float, ...]
    stated: bool
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True, eq=False)
class FilmThickness:
    """Film thickness from steps.

    Attributes
    ----------
    thickness : Estimate
        [m].
    scans : tuple of SteppedScan
    budget : Budget
    reference : Reference
    straight : bool
        Whether both levels share a straight line; else a parabola.
    height_scale : Measured
        Scale factor of the heights, value 1 with its relative uncertainty.
    warnings : tuple of Notice
    noise_setting : str
        How cautiously the residuals were judged: "sharp", "balanced" or "safe".
    """

    thickness: Estimate
    scans: tuple[SteppedScan, ...]
    budget: Budget
    reference: Reference
    straight: bool
    height_scale: Measured
    warnings: tuple[Notice, ...]
    noise_setting: str
