"""The curvatures of a height map as a whole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.records.notice import Notice
from filmstress.records.quantity import Estimate
from filmstress.records.scan import ScanSource

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class MapCurvature:
    """A quadratic surface through all heights of a map.

    Attributes
    ----------
    source : ScanSource
        Provenance of the map.
    rows, columns : int
        Of its grid.
    width, height : float
        Extent of what was measured, along x and y [m].
    points, points_used : int
        Points with a height, and those of them that are neither dust nor wild.
    lowest_to_highest : float
        Range of the heights [m].
    xx, yy, xy : Estimate
        Curvatures in the map's axes [1/m]; a bowl is positive.
    covariance : ndarray, shape (3, 3)
        Of these [1/m^2].
    mean : Estimate
        Over all directions [1/m].
    high, low : Estimate
        Principal curvatures, the larger first [1/m].
    axis : Estimate
        Azimuth of the larger one, 0 to pi [rad]; of unknown uncertainty where the curvature is too
        much alike in all directions to have an axis.
    residual_rms, correlation_length : float
        What the surface leaves, and the length over which that is correlated [m].
    white_share : float
        Share of white noise in the variance of a mean over a twelfth of the map [1].
    established : bool
        Whether the residuals rule out slow drift that passes for curvature, and run in no
        direction of their own.
    warnings : tuple of Notice
    """

    source: ScanSource
    rows: int
    columns: int
    width: float
    height: float
    points: int
    points_used: int
    lowest_to_highest: float
    xx: Estimate
    yy: Estimate
    xy: Estimate
    covariance: Floats
    mean: Estimate
    high: Estimate
    low: Estimate
    axis: Estimate
    residual_rms: float
    correlation_length: float
    white_share: float
    established: bool
    warnings: tuple[Notice, ...] = ()
