"""A trial: scans of a planned measurement are drawn and sent through the whole chain."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from filmstress.measure.plate import plate_of
from filmstress.measure.wafer import measure_wafer
from filmstress.physics.stoney import curvature_row, curvature_tensor
from filmstress.records.plan import Instrument
from filmstress.records.result import StressResult
from filmstress.records.scan import ReadingOptions, Scan, ScanSource
from filmstress.records.wafer import Face, LineSpec, State, WaferSpec
from filmstress.simulate.noise_sources import ornstein_uhlenbeck, white
from filmstress.simulate.random_field import RandomField

Floats = NDArray[np.float64]
Read = Callable[[str, ReadingOptions], Scan]


def film_curvature(wafer: WaferSpec, stress_pa: float, azimuth_rad: float) -> float:
    """Curvature change that an equibiaxial stress makes along an azimuth of a linear plate [1/m].

    Without a film thickness ``stress_pa`` is a force per width [N/m].
    """
    substrate, film = wafer.substrate, wafer.film
    thickness = 1.0 if film.thickness is None else film.thickness.value
    thicker = 1.0 if film.thickness is None else 1.0 + thickness / substrate.thickness.value
    force = stress_pa * thickness * thicker
    tensor = curvature_tensor(
        reduced_pa=plate_of(substrate).reduced,
        force_per_width_n_per_m=(force, force, 0.0),
        substrate_thickness_m=substrate.thickness.value,
        face_sign=1 if film.face is Face.UP else -1,
    )
    return float(curvature_row(azimuth_rad) @ tensor)


def with_repeats(wafer: WaferSpec, repeats: int) -> WaferSpec:
    """The wafer with every line scanned ``repeats`` times in each state."""
    lines = []
    for number, line in enumerate(wafer.lines):
        for repeat in range(repeats):
            states = tuple(
                State(
                    state.name,
                    replace(
                        state.scan,
                        path=None if state.scan.path is None else f"{number} {repeat} {state.name}",
                    ),
                )
                for state in line.states
            )
            lines.append(LineSpec(states))
    return replace(wafer, lines=tuple(lines))


def trial(
    wafer: WaferSpec, instrument: Instrument, *, stress_pa: float, seed: int, setting: str
) -> StressResult:
    """Draw a planned measurement and measure it.

    Parameters
    ----------
    wafer : WaferSpec
        Its paths are only names.
    instrument : Instrument
    stress_pa : float
        The film's true stress [Pa].
    seed : int
        Another number draws another measurement.
    setting : str
        Setting of the noise model.
    """
    wafer = with_repeats(wafer, instrument.repeats)
    scans = _drawn(wafer, instrument, stress_pa, np.random.SeedSequence(seed))

    def read(path: str, options: ReadingOptions) -> Scan:  # noqa: ARG001 - the reader's signature
        return scans[path]

    return measure_wafer(wafer, setting=setting, read=read, in_brief=True)


def _drawn(
    wafer: WaferSpec, instrument: Instrument, stress_pa: float, seed: np.random.SeedSequence
) -> dict[str, Scan]:
    face, *lines = seed.spawn(1 + len(wafer.lines))
    waviness = RandomField.draw(
        np.random.default_rng(face),
        rms_m=instrument.waviness_m,
        length_m=instrument.waviness_length_m,
    )
    half = 0.5 * instrument.length_m
    x = np.linspace(-half, half, instrument.points)
    scans = {}
    for line, own in zip(wafer.lines, lines, strict=True):
        azimuth = line.azimuth.value
        face_heights = waviness(x * math.cos(azimuth), x * math.sin(azimuth))
        face_heights = face_heights + instrument.bare_bow_m * (x / half) ** 2
        bent = 0.5 * film_curvature(wafer, stress_pa, azimuth) * x**2
        for state, rng_seed in zip(line.states, own.spawn(len(line.states)), strict=True):
            scan = state.scan
            if scan.path is None:
                continue
            rng = np.random.default_rng(rng_seed)
            z = face_heights + (bent if state is line.states[-1] else 0.0)
            z = z + white(rng, x.size, sd_m=instrument.noise_m)
            z += ornstein_uhlenbeck(
                rng,
                x.size,
                sd_m=instrument.drift_m,
                length_m=instrument.drift_length_m,
                spacing_m=instrument.length_m / (x.size - 1),
            )
            bow = (scan.bow_repeatability.u or 0.0) + scan.bow_repeatability.value
            z += bow * float(rng.standard_normal()) * (x / half) ** 2
            z = z if scan.height_up else -z
            # Positions as the file would hold them.
            origin = 0.0 if scan.origin is None else scan.origin.value
            source = ScanSource(scan.path, scan.path, "m", "m", "x", "z", x.size)
            scans[scan.path] = Scan(x - origin, z, source)
    return scans
