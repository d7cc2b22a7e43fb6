"""Find the scan after deposition on the scan before it, from the waviness both share."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import MeasurementRefused
from filmstress.records.notice import RefusalCode
from filmstress.records.registration import Registration
from filmstress.scans.alignment import Alignment, align
from filmstress.scans.correlation import Comparison, Curve, Placement, chance, chance_level, tries
from filmstress.scans.texture import Texture, on_common_grid, prepare

Floats = NDArray[np.float64]

LOW_MATCH = 0.6
SEARCH_M = 5e-3
FOUND = 0.01  # a placement counts as found where chance alone does as well less often than this
FAKED = 0.05  # how often unlike scans may reach a match of one half
STAGE_SHARE = 0.5  # the stage may make up to this share of what is seen: as much as the wafer


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
    curves = {turn: pair.curve(search_m, reversed=turn) for turn in directions}
    if not any(np.isfinite(curve.correlation).any() for curve in curves.values()):
        raise MeasurementRefused(
            "the two scans overlap by less than half of the shorter one",
            code=RefusalCode.NO_OVERLAP,
            hint="check the origin of each scan, its window and its position unit",
        )
    search = _Search(pair, curves, search_m, stage)
    if not search.texture:
        return search.undetermined(0.0, 0.0)
    return search.result()


class _Search:
    """What the correlation curves say about where the post scan lies."""

    def __init__(self, pair, curves, search_m, stage):
        self.pair, self.curves, self.search_m, self.stage = pair, curves, search_m, stage
        self.tries = tries(search_m, bandwidth=pair.bandwidth, directions=len(curves))
        self.texture = self._chance(pair.possible) < FOUND

    def _chance(self, correlation, looks=1.0):
        return chance(correlation, looks=self.pair.looks * looks, tries=self.tries)

    def undetermined(self, match, runner_up):
        return Registration(0.0, self.search_m / math.sqrt(3.0), math.inf, False, match, runner_up, self.texture, False, self.search_m)

    def result(self):
        pair, stage = self.pair, self.stage
        width = 2.0 / pair.bandwidth
        fixed = None; share = 0.0; curves = dict(self.curves)
        if stage is not None and stage.reversed in curves:
            turn = stage.reversed
            fixed = curves[turn].hill(stage.offset_m, reversed=turn)
            if fixed is not None and abs(fixed.offset - stage.offset_m) > width:
                fixed = curves[turn].within(stage.offset_m, 0.51*pair.step, inside=True).peak(reversed=turn)
            if fixed is not None and fixed.correlation > 1.645 / math.sqrt(pair.looks):
                share = fixed.correlation
                curves[turn] = pair.without(curves[turn], fixed)
            curves[turn] = curves[turn].within(stage.offset_m, width, inside=False)
        if fixed is not None:
            fine = align(pair, fixed)
            level = math.tanh(math.atanh(STAGE_SHARE) + 1.645 / math.sqrt(pair.looks))
            match = stretched(fine.correlation / pair.possible, level, 1.0)
            gap = abs(fine.offset - stage.offset_m)
            pull = min(gap, fine.excess / gap) if gap > 0 else 0.0
            as_fixed = (fixed, fine, match, pull)
            if match >= LOW_MATCH and gap < width: return self.finish(*as_fixed)
        free = best(curves)
        if free is not None:
            fine = align(pair, free)
            clean = fine.correlation
            looks = 1.0 / (1 + share**2)
            if fixed is not None and fixed.reversed == free.reversed:
                clean -= share * float(pair.own[abs(fixed.lag - free.lag)])
                looks = 1/_calmed(min(STAGE_SHARE, share / pair.possible))
            p = self._chance(clean, looks)
            if fixed is None or p < FOUND:
                level = chance_level(FAKED, looks=pair.looks * looks, tries=self.tries) / pair.possible
                match = stretched(clean / pair.possible, level, 1 - min(STAGE_SHARE, share / pair.possible))
                if p >= FOUND: match = min(match, 0.5)
                return self.finish(free, fine, match, 0.0)
        return self.finish(*as_fixed)

    def finish(self, place, fine, match, pull):
        others = {
            t: c.within(place.offset, 2 / self.pair.bandwidth, inside=False) if t == place.reversed else c for t, c in self.curves.items()}
        if self.stage is not None and self.stage.reversed in others:
            others[self.stage.reversed] = others[self.stage.reversed].within(self.stage.offset_m, 2 / self.pair.bandwidth, inside=False)
        o = best(others)
        level = chance_level(FAKED, looks=self.pair.looks, tries=self.tries) / self.pair.possible
        runner = stretched(o.correlation / self.pair.possible, level,1) if o else 0.0
        if match < LOW_MATCH or not math.isfinite(fine.u): return self.undetermined(match, runner)
        return Registration(fine.offset, math.hypot(fine.u, pull), fine.dof, place.reversed, match, runner, True, True, self.search_m)


def best(curves):
    peaks = [p for t, c in curves.items() if (p := c.peak(reversed=t)) is not None]
    return max(peaks, key=lambda p: p.correlation, default=None)

def stretched(correlation, level, expected):
    level = min(max(level, 0.5*expected), 0.98)
    expected = max(expected, 0.5 * (1 + level))
    return min(1.0, max(0.0, 0.5 + 0.5 * (correlation - level) / (expected - level)))

def _calmed(c):
    return c*c*(1-c)**2 + 2*c*(1-c)*(1-c+c*c/2) + (1-c)**2*(1+c*c/2)
