"""Which placement it is: the wafer's own, or one that the stage or chance alone would give."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.scans.alignment import Alignment, align
from filmstress.scans.correlation import Comparison, Curve, Placement, best, chance_level

Floats = NDArray[np.float64]

FOUND = 0.01  # a second peak counts as found where chance does as well less often than this
FAKED = 0.05  # how often unlike scans may reach a match of one half
STAGE_SHARE = 0.5  # the stage may make up to this share of what is seen: as much as the wafer
MERGED = 0.55  # two peaks whose shapes overlap by more may stand as one
INSEPARABLE = 0.84  # and by more than this always do
SHOULDER = 0.5  # over the bandwidth: how far a second peak may lie from the nearest top
UNSURE = 1.5  # scatter of the stage's share found, in units of 1/sqrt(looks) (measured)
EXPLAINED = 0.9  # share of the texture beyond which a placement needs no rival


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


@dataclass(frozen=True, slots=True)
class Found:
    """The placement that explains the scans best.

    ``bias`` is how far the stage may have drawn the offset [m].
    """

    alignment: Alignment
    reversed: bool
    match: float
    bias: float = 0.0


def find(
    pair: Comparison, curves: Sequence[Curve], *, tries: float, stage: SharedStage | None
) -> Found:
    """Find the wafer's placement among the curves of both directions.

    Without a shared stage it is the highest peak.  With one, a peak at the stage's placement
    proves little, and the wafer may show as a second peak elsewhere, no higher than the first.
    So one peak at, or merged with, the stage's placement is weighed against two peaks, one of
    them there: two are taken where they explain so much more that chance would do it less often
    than FOUND.
    """
    beside = _Beside.of(pair, curves, stage)
    if beside is None:
        place = best(curves)
        if place is None:
            raise ValueError("no placement was tried")
        alone = align(pair, place)
        flat = chance_level(0.5 * FAKED, looks=alone.looks, tries=tries)
        plain = chance_level(0.5 * FAKED, looks=alone.common_looks, tries=tries)
        return Found(alone, place.reversed, _match(pair, alone, flat=flat, plain=plain))
    one = beside.one()
    # More than a stage can fake is the wafer's own, and wants no second peak beside it.
    enough = min(math.sqrt(EXPLAINED), _faked_by_stage(one.looks, deviate=2.58))
    if one.correlation < enough * pair.flat.possible:
        two = beside.second(one, tries=tries)
        if two is not None:
            return two
    gap = abs(one.offset - beside.stage.offset_m)
    return Found(
        one,
        beside.stage.reversed,
        _match(
            pair,
            one,
            flat=pair.flat.possible * _faked_by_stage(one.looks),
            plain=pair.plain.possible * _faked_by_stage(one.common_looks),
        ),
        bias=min(gap, one.excess / gap) if gap > 0.0 else 0.0,
    )


def _faked_by_stage(looks: float, deviate: float = 1.96) -> float:
    """Correlation that different wafers on one stage exceed once in 40, by Fisher's z.

    With a normal ``deviate`` of 2.58 once in 200.
    """
    return math.tanh(math.atanh(STAGE_SHARE) + deviate / math.sqrt(looks))


def _match(
    pair: Comparison,
    fine: Alignment,
    *,
    flat: float,
    plain: float,
    share: float = 0.0,
    overlap: float = 0.0,
) -> float:
    """The better of both views, each kept below one half up to its level of unlike scans.

    ``share`` is the stage's, ``overlap`` the height of its peak here.
    """
    match = 0.0
    views = (fine.correlation, flat, pair.flat), (fine.common, plain, pair.plain)
    for correlation, level, view in views:
        if correlation > 0.0 and view.possible > 0.0:
            trust = 1.0 if correlation >= level else min(1.0, 0.5 / level)
            wafer = trust * correlation / view.possible - share * overlap
            match = max(match, wafer / (1.0 - min(STAGE_SHARE, share)))
    return min(match, 1.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Beside:
    """The curves as seen from the stage's placement."""

    pair: Comparison
    curves: Sequence[Curve]
    stage: SharedStage
    curve: Curve  # the one that holds the stage's placement
    at: int  # and its index there
    shape: Floats  # of a peak at the stage's placement, along that curve

    @classmethod
    def of(
        cls, pair: Comparison, curves: Sequence[Curve], stage: SharedStage | None
    ) -> _Beside | None:
        """None where there is no stage, or its placement was not tried."""
        if stage is None:
            return None
        for curve in curves:
            if curve.reversed == stage.reversed:
                at = curve.nearest(stage.offset_m, step=pair.step)
                if at is not None:
                    shape = pair.own[np.abs(curve.lags - curve.lags[at])]
                    return cls(pair, curves, stage, curve, at, shape)
        return None

    @property
    def seen(self) -> float:
        """Correlation at the stage's placement."""
        return float(self.curve.correlation[self.at])

    def one(self) -> Alignment:
        """The one peak that may hold both: the top the stage's placement leads up to, if near."""
        top = self.curve.uphill(self.at)
        if self.shape[top] > MERGED:
            return align(self.pair, self.curve.place(top))
        return align(self.pair, self.curve.place(self.at), stay=True)

    def second(self, one: Alignment, *, tries: float) -> Found | None:
        """A second peak, if two explain much more than ``one`` does."""
        pair, seen = self.pair, self.seen
        peak = best(curve.showing(self._partial(curve)) for curve in self.curves)
        if peak is None or peak.correlation <= 0.0 or not self._stands_alone(peak):
            return None
        same = peak.reversed == self.stage.reversed
        overlap = float(pair.own[abs(peak.lag - int(self.curve.lags[self.at]))]) if same else 0.0
        fine = align(pair, peak)
        scale = math.sqrt(1.0 - overlap**2) if same else math.hypot(1.0, seen)
        partial = (fine.correlation - overlap * seen) / scale
        left = max(1.0 - EXPLAINED, 1.0 - seen**2 - partial**2)
        alone = max(one.correlation, seen)
        ratio = left / max(1.0 - EXPLAINED, 1.0 - alone**2)
        if partial <= 0.0 or -math.expm1(-tries * ratio ** (0.5 * (fine.looks - 1.0))) > FOUND:
            return None
        # The two shares follow from the two heights; what a perfect match leaves bounds the stage.
        stage = (seen - overlap * fine.correlation) / (1.0 - overlap**2)
        room = max(0.0, pair.flat.possible - fine.correlation)
        scatter = 1.0 / math.sqrt(fine.looks)
        stage = min(stage, room / (1.0 - overlap))
        stage = stage if stage > 1.645 * scatter else 0.0
        if same:
            fine = align(pair, peak, stage_offset=self.stage.offset_m, stage_share=stage)
        share = stage / pair.flat.possible
        plain = chance_level(0.5 * FAKED, looks=fine.common_looks, tries=tries)
        match = _match(pair, fine, flat=0.0, plain=plain, share=share, overlap=overlap)
        return Found(
            fine, peak.reversed, match, bias=abs(fine.stage_pull) * min(room, UNSURE * scatter)
        )

    def _stands_alone(self, peak: Placement) -> bool:
        """Whether the peak is a top of the curve, not a shoulder of the stage's peak."""
        if peak.reversed != self.stage.reversed:
            return True
        index = peak.lag - int(self.curve.lags[0])
        width = SHOULDER / (self.pair.flat.bandwidth * self.pair.step)
        return abs(self.curve.uphill(index) - index) < width

    def _partial(self, curve: Curve) -> Floats:
        """Correlation of what a peak at the stage's placement leaves, scaled to even scatter.

        Of two wafers on one stage, the reversed curve scatters more: the stage's part pairs every
        two places twice.
        """
        if curve is not self.curve:
            return curve.correlation / math.hypot(1.0, self.seen)
        free = 1.0 - self.shape**2
        apart = free >= 1.0 - INSEPARABLE**2
        rest = curve.correlation - self.shape * self.seen
        partial: Floats = np.where(apart, rest / np.sqrt(np.where(apart, free, 1.0)), np.nan)
        return partial
