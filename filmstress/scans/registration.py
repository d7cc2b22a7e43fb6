"""Find the scan after deposition on the scan before it, from the waviness both share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import MeasurementRefused
from filmstress.records.notice import RefusalCode
from filmstress.records.registration import Registration
from filmstress.scans.alignment import Alignment, align
from filmstress.scans.correlation import (
    Comparison,
    Curve,
    Placement,
    best,
    chance,
    chance_level,
    effective_tries,
)
from filmstress.scans.texture import Texture, on_common_grid, prepare

Floats = NDArray[np.float64]

SEARCH_M = 5e-3
LOW_MATCH = 0.6
FOUND = 0.01  # a placement counts as found where chance does as well less often than this
FAKED = 0.05  # how often unlike scans may reach a match of one half
STAGE_SHARE = 0.5  # the stage may make up to this share of what is seen: as much as the wafer
_UNRESOLVED = 0.55  # two peaks whose shapes overlap by more may stand as one
_INSEPARABLE = 0.84  # and by more than this always do
_PERFECT = 0.9  # share explained beyond which a second peak is not looked for
_ONE_SIDED_95 = 1.645


@dataclass(frozen=True, slots=True)
class SharedStage:
    """Placement at which both scans would have stood on the same places of the stage.

    The stage's own straightness error is in every scan at the same stage position, so at this
    placement even scans of different wafers agree in part.

    Attributes
    ----------
    offset_m : float
        Offset of that placement [m].
    reversed : bool
        Whether it is one with the post scan turned end to end.
    """

    offset_m: float = 0.0
    reversed: bool = False


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
    pair = Comparison(*on_common_grid(pre, post))
    directions = (False, True) if allow_reversed else (False,)
    curves = [pair.curve(search_m, reversed=turn) for turn in directions]
    if best(curves) is None:
        raise MeasurementRefused(
            "the two scans overlap by less than half of the shorter one",
            code=RefusalCode.NO_OVERLAP,
            hint="check origin, window and position unit of both scans",
        )
    tries = effective_tries(search_m, bandwidth=pair.bandwidth, directions=len(curves))
    found = None
    if chance(pair.possible, looks=pair.looks, tries=tries) < FOUND:
        found = _free_of_stage(pair, curves, tries) if stage is None else _beside_stage(pair, curves, tries, stage)
    return _registration(pair, curves, tries, stage, found, search_m)


@dataclass(frozen=True, slots=True)
class _Found:
    """The placement that explains the scans best, refined."""

    fine: Alignment
    reversed: bool
    match: float
    pull: float = 0.0


def _free_of_stage(pair, curves, tries):
    place = best(curves)
    fine = align(pair, place)
    level = chance_level(FOUND, looks=fine.looks, tries=tries)
    return _Found(fine, place.reversed, _match(fine, level=level))


def _beside_stage(pair, curves, tries, stage):
    beside = next((c for c in curves if c.reversed == stage.reversed), None)
    at = beside.nearest(stage.offset_m) if beside is not None else None
    if at is None:
        return _free_of_stage(pair, curves, tries)
    seen = float(beside.correlation[at])
    shape = pair.own[np.abs(beside.lags - beside.lags[at])]
    top = beside.uphill(at)
    single = beside.place(top if shape[top] > _UNRESOLVED else at)
    fine = align(pair, single)
    if fine.correlation**2 < _PERFECT * pair.possible**2:
        two = _second(pair, curves, tries, stage, beside, at, seen, shape, fine)
        if two is not None: return two
    level = pair.possible * math.tanh(math.atanh(STAGE_SHARE) + _ONE_SIDED_95 / math.sqrt(fine.looks))
    gap = abs(fine.offset - stage.offset_m)
    pull = min(gap, fine.excess / gap) if gap > 0 else 0.0
    return _Found(fine, single.reversed, _match(fine, level=level), pull)

def _second(pair, curves, tries, stage, beside, at, seen, shape, single):
    own = 1.0 - shape**2
    with np.errstate(invalid="ignore"):
        partial = np.where(
            own >= 1.0 - _INSEPARABLE**2, (beside.correlation - shape * seen) / np.sqrt(np.maximum(own, 1e-9)), np.nan
        )
    second = best(
        curve.showing(partial if curve is beside else curve.correlation / math.hypot(1.0, seen))
        for curve in curves
    )
    if second is None or second.correlation <= 0: return None
    same = second.reversed == stage.reversed
    apart = float(pair.own[abs(second.lag - int(beside.lags[at]))]) if same else 0.0
    raw = second.correlation * math.sqrt(1 - apart**2) + apart * seen
    share = (seen - apart * raw) / (1 - apart**2)
    fine = align(pair, second)
    room = max(0.0, pair.possible - fine.correlation + share * apart)
    share = min(share, room)
    share = share if share > _ONE_SIDED_95 / math.sqrt(pair.looks) else 0.0
    if share and same: fine = align(pair, second, stage_offset=stage.offset_m, stage_share=share)
    T = (fine.correlation - apart * seen) / math.sqrt(1 - apart**2) if same else fine.correlation / math.hypot(1, seen)
    left = max(1.0 - _PERFECT, 1.0 - seen**2 - T**2)
    ratio = left / max(1.0 - _PERFECT, 1.0 - single.correlation**2)
    p = -math.expm1(-tries * ratio ** (0.5 * fine.looks))
    if p >= FOUND: return None
    pull = abs(fine.stage_sensitivity) * min(room, 1 / math.sqrt(fine.looks)) if same else 0.0
    return _Found(fine, second.reversed, _match(fine, level=0.0, stage_share=share / pair.possible, apart=apart), pull)


def _match(fine, *, level, stage_share=0.0, apart=0.0):
    if fine.correlation < level:
        return 0.5 * max(0.0, fine.correlation) / level
    common = (fine.common - stage_share * apart) / (1.0 - min(STAGE_SHARE, stage_share))
    return min(1.0, max(0.0, common))


def _registration(pair, curves, tries, stage, found, search_m):
    texture = found is not None
    nothing = Registration(0.0, search_m / math.sqrt(3.0), math.inf, False, found.match if found else 0.0, 0.0, texture, False, search_m)
    if not texture: return nothing
    width = 2.0 / pair.bandwidth
    out = []
    for c in curves:
        near = np.zeros(c.lags.size, bool)
        if c.reversed == found.reversed: near |= np.abs(c.offsets - found.fine.offset) < width
        if stage is not None and c.reversed == stage.reversed: near |= np.abs(c.offsets - stage.offset_m) < width
        out.append(c.showing(np.where(near, np.nan, c.correlation)))
    o = best(out)
    runner = max(0.0, min(1.0, o.correlation / pair.possible)) if o else 0.0
    from dataclasses import replace
    if found.match < LOW_MATCH or not math.isfinite(found.fine.u): return replace(nothing, runner_up=runner)
    return Registration(found.fine.offset, math.hypot(found.fine.u, found.pull), found.fine.dof, found.reversed, found.match, runner, True, True, search_m)
