"""Scans of a line before and after deposition, drawn from a truth."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import RefusedInput
from filmstress.physics.stoney import curvature_row
from filmstress.records.scan import LeftOut, Scan, ScanSource
from filmstress.simulate import noise_sources
from filmstress.simulate.random_field import RandomField
from filmstress.simulate.sag import Sag, sag_on
from filmstress.simulate.shape import Surface, curvature_tensor, poisson_ratio
from filmstress.simulate.truth import ScanConditions, Truth

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """One scan as its file would hold it.

    Attributes
    ----------
    x : ndarray of float64, shape (n,)
        Positions [m], increasing.
    z : ndarray of float64, shape (n,)
        Heights [m]; NaN where the instrument gave none.
    name : str
        "pre" or "post".
    """

    x: FloatArray
    z: FloatArray
    name: str

    @property
    def scan(self) -> Scan:
        """The points that have a height, as a reader would hand them on."""
        found = np.isfinite(self.z)
        blanks = int(self.z.size - np.count_nonzero(found))
        first_blank = int(np.argmin(found)) + 1
        source = ScanSource(
            path=f"simulated {self.name}",
            sha256="",
            position_unit="m",
            height_unit="m",
            position_column="x",
            height_column="z",
            rows=int(self.z.size),
            left_out=(LeftOut("no height", blanks, first_blank),) if blanks else (),
        )
        return Scan(self.x[found], self.z[found], source)


@dataclass(frozen=True, slots=True, eq=False)
class SimulatedPair:
    """A line scanned before and after deposition, and what is true of it.

    Attributes
    ----------
    pre_trace, post_trace : Trace
        The scans as their files would hold them.
    azimuth_rad : float
        Of the line [rad].
    repeat : int
        Counts from 0 the times that the line was scanned.
    curvature_change : float
        Change by the film along the line, as the scanned face shows it [1/m].
    offset_m : float
        Where the post scan lies on the wafer when the pre scan lies where it was stated to [m]:
        ``x`` from the scan's centre lies at ``offset + x``, at ``offset - x`` if reversed.
    reversed : bool
        Whether one of the two was scanned from the other end.
    weighings : tuple of Trace
        Scans of the bare wafer on the supports of the truth.
    """

    pre_trace: Trace
    post_trace: Trace
    azimuth_rad: float
    repeat: int
    curvature_change: float
    offset_m: float
    reversed: bool
    weighings: tuple[Trace, ...] = ()

    @property
    def pre(self) -> Scan:
        """Scan before deposition."""
        return self.pre_trace.scan

    @property
    def post(self) -> Scan:
        """Scan after deposition."""
        return self.post_trace.scan


# States of the wafer, which draw noise of their own; weighings follow.
_PRE, _POST = 0, 1
_WEIGHINGS = ("first", "second", "third", "fourth")


class _Stream(IntEnum):
    """What a stream of random numbers is for, so that one thing added moves no other."""

    WAVINESS = 0
    STAGE = 1
    PLACE = 2
    WHITE = 3
    CORRELATED = 4
    WALK = 5
    BOW = 6
    DUST = 7
    SPOILT = 8


def simulate_pair(
    truth: Truth,
    *,
    azimuth_rad: float | None = None,
    repeat: int = 0,
    seed: int | None = None,
) -> SimulatedPair:
    """Draw the scans of one line before and after deposition.

    Parameters
    ----------
    truth : Truth
        What they are drawn from.
    azimuth_rad : float, optional
        Of the line [rad]; the first azimuth of the truth if not given.
    repeat : int
        The same line scanned once more: another number draws other noise.
    seed : int, optional
        In place of the truth's own.

    Raises
    ------
    RefusedInput
        A seed or repeat below 0; SubstrateError for a substrate that the table does not know.
    """
    if seed is not None:
        truth = replace(truth, seed=seed)
    azimuth = truth.azimuths_rad[0] if azimuth_rad is None else azimuth_rad
    if repeat < 0:
        raise RefusedInput(f"{repeat} came; want 0 or more", where="repeat")
    tensor = curvature_tensor(truth)
    waviness = RandomField.draw(
        _generator(truth.seed, _Stream.WAVINESS),
        rms_m=truth.waviness_rms_m,
        length_m=truth.waviness_length_m,
    )
    straightness = RandomField.draw(
        _generator(truth.stage_seed, _Stream.STAGE),
        rms_m=truth.stage_rms_m,
        length_m=truth.stage_length_m,
    )
    line = _Line(
        truth, Surface(truth, waviness, tensor, poisson_ratio(truth)), straightness, azimuth, repeat
    )
    pre, pre_place = line.scan("pre", truth.pre, state=_PRE)
    post, post_place = line.scan("post", truth.post, state=_POST)
    weighings = tuple(
        line.scan(f"weight-{name}", truth.pre, state=number, sag=sag_on(truth, support, azimuth))[0]
        for number, (name, support) in enumerate(
            zip(_WEIGHINGS, truth.weighed_on, strict=False), start=_POST + 1
        )
    )
    turned = truth.pre.reversed != truth.post.reversed
    # The pre scan's place is the stated one; where it was turned, so is the line itself.
    offset = post_place - pre_place
    return SimulatedPair(
        pre_trace=pre,
        post_trace=post,
        azimuth_rad=azimuth,
        repeat=repeat,
        curvature_change=float(curvature_row(azimuth) @ tensor),
        offset_m=-offset if truth.pre.reversed else offset,
        reversed=turned,
        weighings=weighings,
    )


def simulate_wafer(
    truth: Truth, *, repeats: int = 1, seed: int | None = None
) -> tuple[SimulatedPair, ...]:
    """Draw every azimuth of the truth, ``repeats`` times, in that order."""
    return tuple(
        simulate_pair(truth, azimuth_rad=azimuth, repeat=repeat, seed=seed)
        for azimuth in truth.azimuths_rad
        for repeat in range(repeats)
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Line:
    """A line across the wafer, ready to be scanned."""

    truth: Truth
    surface: Surface
    straightness: RandomField
    azimuth_rad: float
    repeat: int

    def scan(
        self, name: str, how: ScanConditions, *, state: int, sag: Sag | None = None
    ) -> tuple[Trace, float]:
        """Scan the line; also where the scan's centre lay along the line [m]."""
        truth = self.truth
        spacing = truth.scan_length_m / (truth.points - 1)
        file_x: FloatArray = spacing * np.arange(truth.points, dtype=np.float64)
        stage: FloatArray = (file_x - 0.5 * truth.scan_length_m) / truth.position_scale
        place_along, place_beside = self._rng(state, _Stream.PLACE).standard_normal(2)
        centre = how.lateral_offset_m + truth.offset_repeatability_m * float(place_along)
        beside = how.sideways_m + truth.line_repeatability_m * float(place_beside)
        along: FloatArray = centre + (-stage if how.reversed else stage)
        cos, sin = math.cos(self.azimuth_rad), math.sin(self.azimuth_rad)
        x, y = along * cos - beside * sin, along * sin + beside * cos
        z = self.surface.bare(x, y)
        if state == _POST:
            z += self.surface.film(x, y)
        if sag is not None:
            z += sag(along)
        z = self._instrument(z + self.straightness(stage), stage, how, state)
        return Trace(truth.first_x_m + file_x, z, name), centre

    def _instrument(
        self, z: FloatArray, stage: FloatArray, how: ScanConditions, state: int
    ) -> FloatArray:
        """Return what the instrument makes of the true heights [m], in the order it happens."""
        truth, points = self.truth, stage.size
        elapsed = np.linspace(0.0, 1.0, points)
        bow = truth.bow_repeatability_m * float(self._rng(state, _Stream.BOW).standard_normal())
        z = z + noise_sources.dust(
            self._rng(state, _Stream.DUST),
            stage,
            count=how.dust_count,
            height_m=how.dust_height_m,
            width_m=how.dust_width_m,
        )
        z += how.height_offset_m + how.tilt_rad * stage
        z += how.drift_m * elapsed**2 + bow * (2.0 * elapsed - 1.0) ** 2
        z += noise_sources.white(self._rng(state, _Stream.WHITE), points, sd_m=truth.white_noise_m)
        z += noise_sources.ornstein_uhlenbeck(
            self._rng(state, _Stream.CORRELATED),
            points,
            sd_m=truth.correlated_noise_m,
            length_m=truth.correlation_length_m,
            spacing_m=truth.scan_length_m / (points - 1),
        )
        z += noise_sources.random_walk(self._rng(state, _Stream.WALK), points, sd_m=truth.walk_m)
        z *= truth.height_scale
        if truth.height_step_m:
            z = truth.height_step_m * np.rint(z / truth.height_step_m)
        return noise_sources.spoil(
            self._rng(state, _Stream.SPOILT),
            z,
            wild_count=how.wild_count,
            wild_height_m=how.wild_height_m,
            blank_count=how.blank_count,
        )

    def _rng(self, state: int, stream: _Stream) -> np.random.Generator:
        line = round(math.degrees(self.azimuth_rad) * 1e4) % 2**32
        return _generator(self.truth.seed, stream, line, self.repeat, state)


def _generator(seed: int, *path: int) -> np.random.Generator:
    return np.random.default_rng(np.random.SeedSequence(seed, spawn_key=path))
