"""The curvatures of a height map as a whole."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.records.scan import ScanSource

Floats = NDArray[np.float64]

# Beyond a few tenths of a radian an axis is not known at all.
_AXIS_LIMIT_RAD = 0.4


@dataclass(frozen=True, slots=True, eq=False)
class MapCurvature:
    """A quadratic surface through all heights of a map.

    Attributes
    ----------
    source : ScanSource
        Provenance of the map.
    shape : (int, int)
        Rows and columns.
    width, height : float
        Extent of what was measured, along x and y [m].
    measured, used : int
        Points with a height, and those of them that are neither dust nor wild.
    lowest_to_highest : float
        Range of the heights [m].
    curvature : ndarray, shape (3,)
        (xx, yy, xy) in the map's axes [1/m]; a bowl is positive.
    covariance : ndarray, shape (3, 3)
        Of these.
    dof : float
        Degrees of freedom, the fewest of the three.
    established : bool
        Whether the residuals rule out slow drift that passes for the surface.
    residual_rms, correlation_length : float
        What is left, and the length over which it is correlated [m].
    """

    source: ScanSource
    shape: tuple[int, int]
    width: float
    height: float
    measured: int
    used: int
    lowest_to_highest: float
    curvature: Floats
    covariance: Floats
    dof: float
    established: bool
    residual_rms: float
    correlation_length: float

    def along(self, azimuth_rad: float) -> tuple[float, float]:
        """Curvature along an azimuth and its standard uncertainty [1/m] (Euler's theorem)."""
        cos, sin = math.cos(azimuth_rad), math.sin(azimuth_rad)
        row = np.array([cos * cos, sin * sin, 2.0 * sin * cos])
        return float(row @ self.curvature), math.sqrt(float(row @ self.covariance @ row))

    @property
    def mean(self) -> tuple[float, float]:
        """Mean curvature and its standard uncertainty [1/m]."""
        row = np.array([0.5, 0.5, 0.0])
        return float(row @ self.curvature), math.sqrt(float(row @ self.covariance @ row))

    @property
    def axis(self) -> tuple[float, float | None]:
        """Azimuth of the largest curvature, 0 to pi, and its standard uncertainty [rad].

        None where the curvature is too much alike in all directions to have an axis.
        """
        xx, yy, xy = self.curvature.tolist()
        half = 0.5 * (xx - yy)
        size = half * half + xy * xy
        if size == 0.0:
            return 0.0, None
        row = np.array([-0.5 * xy, 0.5 * xy, half]) / (2.0 * size)
        u = math.sqrt(float(row @ self.covariance @ row))
        angle = (0.5 * math.atan2(xy, half)) % math.pi
        return angle, u if u < _AXIS_LIMIT_RAD else None
