"""Curvatures found from scans: of one scan, and of the change between two states of a line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.records.budget import Term
from filmstress.records.notice import Notice
from filmstress.records.registration import Registration

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """Points in wafer coordinates.

    Attributes
    ----------
    x, z : ndarray, shape (n,)
        Position from the wafer's centre along the azimuth, and height [m].
    keep : ndarray of bool, shape (n,)
        False where a point was left out of the fit.
    origin : float
        Where the file's (and so the stage's) x = 0 lies [m].
    backwards : bool
        Whether the file's x runs against the line.
    datum_removed : bool
        Whether the stage's own straightness has been taken out.
    """

    x: Floats
    z: Floats
    keep: NDArray[np.bool_]
    origin: float = 0.0
    backwards: bool = False
    datum_removed: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class ParabolaBand:
    """The fitted parabola on a coarse grid, with its standard uncertainty [m], for drawing."""

    x: Floats
    z: Floats
    u: Floats


@dataclass(frozen=True, slots=True, eq=False)
class CurvatureProfile:
    """Curvature along the scan [1/m] at positions on the wafer [m], its u [1/m] and dof."""

    x: Floats
    curvature: Floats
    u: Floats
    dof: float


@dataclass(frozen=True, slots=True, eq=False)
class SmoothShape:
    """The trace as Legendre polynomials of order 0 to 6 in t = (x - centre) / half_length.

    Attributes
    ----------
    centre, half_length : float
        [m], wafer coordinates.
    coefficients : ndarray, shape (7,)
        [m].
    covariance : ndarray, shape (7, 7)
        [m^2].
    dof : float
        Degrees of freedom of the covariance.
    parabola_reads : ndarray, shape (7,)
        What the fitted parabola's curvature takes up of each coefficient [1/m^2].
    """

    centre: float
    half_length: float
    coefficients: Floats
    covariance: Floats
    dof: float
    parabola_reads: Floats


@dataclass(frozen=True, slots=True, eq=False)
class CurvatureFit:
    """A parabola fitted under correlated residuals.

    Attributes
    ----------
    curvature, u, dof : float
        Curvature [1/m], its standard uncertainty from the residuals alone [1/m], and that
        uncertainty's degrees of freedom.
    established : bool
        Whether the residuals could establish that uncertainty (statistically: residuals correlated
        over a small part of the scan, four degrees of freedom or more).
    length, centre : float
        Of the fitted stretch [m], wafer coordinates.
    correlation_length : float
        Of the residuals [m].
    white_share : float
        Part of the residuals' variance that is not correlated [1].
    residual_rms : float
        [m].
    smooth_misfit_rms, smooth_misfit_share : float or None
        What the parabola misses smoothly, rms [m], and relative to the rms of the parabola [1];
        None, like the next two, ``profile`` and ``shape``, where this was not looked at.
    misfit_significant : bool
        Whether that misfit is more than the residuals' noise makes.
    curvature_even : float or None
        Curvature averaged evenly along the scan [1/m]; the fit weights the middle.
    points, points_used : int
        Before and after masking.
    particles, dropouts : int
        Masked dust particles (runs of points) and single wild points.
    masked_share, down_share : float
        Share of the points that are masked; of the masked ones, share that points down.
    line_period, line_amplitude : float or None
        A single wave found in the residuals [m], fitted along with the parabola.
    setting : str
        Setting of the noise model.
    band : ParabolaBand
        For drawing.
    profile : CurvatureProfile or None
        Curvature along the scan.
    shape : SmoothShape or None
        What that curvature was found from.
    """

    curvature: float
    u: float
    dof: float
    established: bool
    length: float
    centre: float
    correlation_length: float
    white_share: float
    residual_rms: float
    points: int
    points_used: int
    particles: int
    dropouts: int
    masked_share: float
    down_share: float
    setting: str
    band: ParabolaBand
    smooth_misfit_rms: float | None = None
    smooth_misfit_share: float | None = None
    misfit_significant: bool = False
    curvature_even: float | None = None
    line_period: float | None = None
    line_amplitude: float | None = None
    profile: CurvatureProfile | None = None
    shape: SmoothShape | None = None

    @property
    def bow(self) -> float:
        """Height of the ends above the middle over the fitted length [m]; a bowl is positive."""
        return self.curvature * self.length**2 / 8.0


@dataclass(frozen=True, slots=True, eq=False)
class ScanCurvature:
    """One scan evaluated alone."""

    trace: Trace
    fit: CurvatureFit
    warnings: tuple[Notice, ...] = ()


@dataclass(frozen=True, slots=True)
class Proof:
    """How often the interval held the truth in copies of the measurement.

    Attributes
    ----------
    copies : int
        Copies that went through.
    held : int
        Copies whose interval held the curvature that they were drawn with.
    widening : float
        Factor on the uncertainty that would have made the interval hold in 95 of 100 copies; 1
        where it fell short by no more than chance allows.
    """

    copies: int
    held: int
    widening: float

    @property
    def coverage(self) -> float:
        """Share of the copies whose interval held the truth."""
        return self.held / self.copies


@dataclass(frozen=True, slots=True, eq=False)
class CurvatureChange:
    """Change of curvature of one line between two states.

    Attributes
    ----------
    azimuth : float
        [rad].
    pre, post : ScanCurvature
        The two scans alone; ``pre`` is None where a stated bare bow stands in for it.
    change : CurvatureFit
        Of the difference after minus before.
    difference : Trace
        The subtracted points.
    registration : Registration or None
        Where the second scan lies on the first; None without a first.
    pre_curvature, pre_u : float
        Curvature of the first state [1/m], from its scan or from the stated bow.
    terms : tuple of Term
        Contributions to the uncertainty of the change, output in 1/m.
    warnings : tuple of Notice
        About this line.
    proof : Proof or None
        How often the interval held in copies of this measurement, where that was asked.
    """

    azimuth: float
    pre: ScanCurvature | None
    post: ScanCurvature
    change: CurvatureFit
    difference: Trace
    registration: Registration | None
    pre_curvature: float
    pre_u: float
    terms: tuple[Term, ...]
    warnings: tuple[Notice, ...] = ()
    proof: Proof | None = None
