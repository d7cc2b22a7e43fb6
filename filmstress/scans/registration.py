"""Find the scan after deposition on the scan before it, from the waviness both share."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import MeasurementRefused
from filmstress.records.notice import RefusalCode
from filmstress.records.registration import Registration
from filmstress.scans.correlation import (
    OVERLAP,
    Comparison,
    Curve,
    best,
    chance,
    effective_tries,
)
from filmstress.scans.placing import FOUND, Found, SharedStage, find
from filmstress.scans.texture import TAPER, Texture, on_common_grid, prepare

Floats = NDArray[np.float64]

SEARCH_M = 5e-3
# Drawn pairs of 100 mm and more (tests/benchmarks/registration_study.py, 1000 of each kind): the
# same line falls below in 0-1 % of them, on a stage as wavy as the wafer in 0-4 % (20 % where that
# leaves some 40 looks); another wafer reaches it in 0-3 % on any stage.
LOW_MATCH = 0.6
FEWEST_LOOKS = 12.0  # below, chance cannot be told well enough
SAME_PLACE = SharedStage()


def register(
    x_pre: Floats,
    z_pre: Floats,
    x_post: Floats,
    z_post: Floats,
    *,
    search_m: float = SEARCH_M,
    keep_pre: NDArray[np.bool_] | None = None,
    keep_post: NDArray[np.bool_] | None = None,
    allow_reversed: bool = True,
    stage: SharedStage | None = SAME_PLACE,
) -> Registration:
    """Find where the post scan lies on the wafer, given the pre scan.

    A post point at x lies on the wafer at ``x + offset``, or at ``offset - x`` when reversed.

    Parameters
    ----------
    x_pre, z_pre, x_post, z_post : ndarray, shape (n,) and (m,)
        Positions as stated in the wafer's frame (x = 0 is its centre) and heights [m]; x strictly
        increasing.  Sampling, length and extent may differ.
    search_m : float
        Offsets from -search_m to +search_m are tried [m].
    keep_pre, keep_post : ndarray of bool, optional
        Points that may be used.
    allow_reversed : bool
        Whether the post scan may have been taken from the other end.
    stage : SharedStage or None
        Where both scans stood on the same places of the stage, whose own straightness error then
        agrees on any wafer; by default where the coordinates agree.  None: it has been taken out.

    Returns
    -------
    Registration
        ``match`` is the correlation of the waviness at the placement found, corrected for white
        noise and for the stage's part: about 1 for the same line of the same wafer, in between
        for another line of it.  Unlike scans exceed 0.5 about once in twenty, even on a stage
        that is as wavy as the wafers: where chance or the stage alone would do as well more often
        than that, what is found counts less.  Below LOW_MATCH the scans should not be taken as
        the same line of the same wafer.

    Raises
    ------
    MeasurementRefused
        Code "no-overlap": nowhere within the search do they overlap by half of the shorter one;
        "too-few-points": so much is masked that nowhere do usable parts do.

    Notes
    -----
    Scans want some thirty correlation lengths of their waviness or more; with less, ``texture``
    is False and nothing is concluded.  Two peaks closer than about 0.6 over the root mean square
    angular frequency of the waviness cannot be told apart: a wafer re-loaded so little beside its
    old place on a wavy stage is found short of its true offset, and ``u_offset_m`` covers that.
    """
    return register_textures(
        prepare(x_pre, z_pre, keep=keep_pre),
        prepare(x_post, z_post, keep=keep_post),
        search_m=search_m,
        allow_reversed=allow_reversed,
        stage=stage,
    )


def register_textures(
    pre: Texture,
    post: Texture,
    *,
    search_m: float = SEARCH_M,
    allow_reversed: bool = True,
    stage: SharedStage | None = SAME_PLACE,
) -> Registration:
    """The same as `register` for prepared scans, so that many can be matched against many."""
    pair = Comparison(*on_common_grid(pre, post))
    directions = (False, True) if allow_reversed else (False,)
    curves = [pair.curve(search_m, reversed=turn) for turn in directions]
    if best(curves) is None:
        raise _nowhere(pair, search_m)
    view = pair.flat
    tries = effective_tries(search_m, bandwidth=view.bandwidth, directions=len(directions))
    perfect = chance(view.possible, looks=view.looks, tries=tries)
    if view.looks < FEWEST_LOOKS or perfect > FOUND:
        return _undetermined(search_m, texture=False)
    found = find(pair, curves, tries=tries, stage=stage)
    elsewhere = best(_elsewhere(pair, curves, found, stage))
    runner_up = 0.0 if elsewhere is None else elsewhere.correlation / view.possible
    runner_up = max(0.0, min(1.0, runner_up))
    fine = found.alignment
    if found.match < LOW_MATCH or not math.isfinite(fine.u):
        return _undetermined(search_m, texture=True, match=found.match, runner_up=runner_up)
    return Registration(
        offset_m=fine.offset,
        u_offset_m=math.hypot(fine.u, found.bias),
        dof=fine.dof,
        reversed=found.reversed,
        match=found.match,
        runner_up=runner_up,
        texture=True,
        determined=True,
        search_m=search_m,
    )


def _nowhere(pair: Comparison, search_m: float) -> MeasurementRefused:
    """Why no placement was tried: the scans lie apart, or too much of them is masked."""
    pre, post = pair.pre, pair.post
    begins = [scan.first - 0.5 * scan.step for scan in (pre, post)]
    lengths = [scan.heights.size * scan.step for scan in (pre, post)]
    ends = [begin + length for begin, length in zip(begins, lengths, strict=True)]
    if min(ends) - max(begins) + search_m < OVERLAP * min(lengths):
        return MeasurementRefused(
            "the two scans overlap by less than half of the shorter one",
            code=RefusalCode.NO_OVERLAP,
            hint="check the origin, the window and the position unit of both scans",
        )
    usable = (100.0 * float(scan.weight.mean() / (1.0 - TAPER)) for scan in (pre, post))
    return MeasurementRefused(
        "what is usable of the two scans beside dust and gaps ({:.0f} % and {:.0f} %) has too "
        "little in common to lay one on the other".format(*usable),
        code=RefusalCode.TOO_FEW_POINTS,
        hint="clean the wafer and repeat the scans; inspect says how much of each is masked",
    )


def _undetermined(
    search_m: float, *, texture: bool, match: float = 0.0, runner_up: float = 0.0
) -> Registration:
    return Registration(
        offset_m=0.0,
        u_offset_m=search_m / math.sqrt(3.0),
        dof=math.inf,
        reversed=False,
        match=match,
        runner_up=runner_up,
        texture=texture,
        determined=False,
        search_m=search_m,
    )


def _elsewhere(
    pair: Comparison, curves: Sequence[Curve], found: Found, stage: SharedStage | None
) -> list[Curve]:
    """The curves without the peak found and without the stage's placement."""
    taken = [(found.reversed, found.alignment.offset)]
    if stage is not None:
        taken.append((stage.reversed, stage.offset_m))
    width = 2.0 / pair.flat.bandwidth
    rest = []
    for curve in curves:
        near = np.zeros(curve.lags.size, dtype=bool)
        for turned, offset in taken:
            if turned == curve.reversed:
                near |= np.abs(curve.offsets - offset) < width
        rest.append(curve.showing(np.where(near, np.nan, curve.correlation)))
    return rest
