"""Maps of a whole wafer before and after deposition, drawn from a truth."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from filmstress.records.scan import HeightMap, ScanSource
from filmstress.simulate.random_field import RandomField
from filmstress.simulate.shape import Surface, curvature_tensor, poisson_ratio
from filmstress.simulate.truth import Truth

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class SimulatedMaps:
    """A wafer mapped before and after deposition, and what is true of it.

    Attributes
    ----------
    pre, post : HeightMap
        Square, the wafer's centre in the middle; NaN outside the circle of the scan's length.
    curvature_change : ndarray, shape (3,)
        Change by the film (xx, yy, 2 xy) [1/m].
    """

    pre: HeightMap
    post: HeightMap
    curvature_change: FloatArray


def simulate_maps(truth: Truth, *, seed: int | None = None) -> SimulatedMaps:
    """Draw the maps of a wafer before and after deposition.

    ``scan_length_m`` and ``points`` are those of the map's rows and columns.  Drawn are form,
    waviness, white noise, noise correlated over the plane as exp(-d / l), and the lateral offset
    along x (a turned wafer, dust, walk, stage, scales and rounding are not).

    Raises
    ------
    SubstrateError
        A substrate or direction that the table does not know.
    """
    if seed is not None:
        truth = replace(truth, seed=seed)
    rng = np.random.default_rng([truth.seed, 0x6D6170])
    tensor = curvature_tensor(truth)
    waviness = RandomField.draw(rng, rms_m=truth.waviness_rms_m, length_m=truth.waviness_length_m)
    surface = Surface(truth, waviness, tensor, poisson_ratio(truth))
    pre = _map(truth, surface, rng, "pre", offset_m=truth.pre.lateral_offset_m)
    post = _map(truth, surface, rng, "post", offset_m=truth.post.lateral_offset_m)
    return SimulatedMaps(pre, post, tensor)


def _map(
    truth: Truth, surface: Surface, rng: np.random.Generator, name: str, *, offset_m: float
) -> HeightMap:
    half = 0.5 * truth.scan_length_m
    axis: FloatArray = np.linspace(-half, half, truth.points)
    place = axis + offset_m
    x, y = np.meshgrid(place, axis)
    smooth = replace(surface, waviness=replace(surface.waviness, amplitude=0.0))
    z = smooth.bare(x, y) + surface.waviness.on_grid(place, axis)
    if name == "post":
        z += surface.film(x, y)
    z += truth.white_noise_m * rng.standard_normal(z.shape)
    slow = RandomField.draw_rough(
        rng, rms_m=truth.correlated_noise_m, length_m=truth.correlation_length_m
    )
    z += slow.on_grid(axis, axis)
    z[np.hypot(*np.meshgrid(axis, axis)) > half * (1.0 + 1e-9)] = np.nan
    source = ScanSource(
        path=f"simulated {name} map",
        sha256=f"{name} {truth.seed}",
        position_unit="m",
        height_unit="m",
        position_column="x, y",
        height_column="z",
        rows=z.size,
    )
    return HeightMap(axis + half, axis + half, z, source)
