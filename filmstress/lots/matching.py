"""Mixed-up scans: whose scan before it fits, where a scan after does not fit its own."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from filmstress.errors import FilmstressError
from filmstress.records.lot import WaferOutcome
from filmstress.records.notice import Notice, WarningCode
from filmstress.records.wafer import State, WaferSpec
from filmstress.scans.curvature import particles_and_dropouts
from filmstress.scans.frame import in_wafer_frame
from filmstress.scans.placing import SharedStage
from filmstress.scans.reading.scan_file import read_scan
from filmstress.scans.registration import LOW_MATCH, register_textures
from filmstress.scans.texture import Texture, prepare

_SAME_AZIMUTH = math.radians(3.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Candidate:
    wafer: str
    line: int
    azimuth: float
    texture: Texture
    origin: float
    backwards: bool


@dataclass(frozen=True, slots=True, eq=False)
class _Fit:
    """A scan after, and the scan before that it fits in place of its own."""

    post: _Candidate
    pre: _Candidate
    match: float


def with_swaps(
    wafers: Sequence[WaferSpec], outcomes: Sequence[WaferOutcome]
) -> tuple[WaferOutcome, ...]:
    """The outcomes, with a warning where a post scan fits another pre scan than its own.

    Costs nothing where every wafer's scans match; otherwise the scans before deposition are read
    once more and compared with every post scan that does not match its own.

    Parameters
    ----------
    wafers, outcomes : sequences, in the same order
        What was asked and found.
    """
    suspects = [outcome.id for outcome in outcomes if mismatched(outcome)]
    if not suspects:
        return tuple(outcomes)
    before = list(_textures(wafers, "pre"))
    after = list(_textures([wafer for wafer in wafers if wafer.id in suspects], "post"))
    found: dict[str, list[_Fit]] = {}
    for post in after:
        own = max((_match(pre, post) for pre in before if _same_line(pre, post)), default=1.0)
        best, match = None, LOW_MATCH
        for pre in before if own < LOW_MATCH else ():
            if not _could_be_meant(pre, post):
                continue
            fitting = _match(pre, post)
            if fitting > match:
                best, match = pre, fitting
        if best is not None:
            found.setdefault(post.wafer, []).append(_Fit(post, best, match))
    return tuple(_noticed(outcome, found.get(outcome.id, [])) for outcome in outcomes)


def _same_line(pre: _Candidate, post: _Candidate) -> bool:
    return (pre.wafer, pre.line) == (post.wafer, post.line)


def _could_be_meant(pre: _Candidate, post: _Candidate) -> bool:
    """Another wafer's scan along this line, or the wafer's own along another."""
    along = _apart(pre.azimuth, post.azimuth) <= _SAME_AZIMUTH
    return along if pre.wafer != post.wafer else not along


def _told(fits: Sequence[_Fit]) -> Iterable[Notice]:
    """One notice for all lines of a wafer that fit the same wafer."""
    homes: dict[str, list[_Fit]] = {}
    for fit in fits:
        homes.setdefault(fit.pre.wafer, []).append(fit)
    for home, those in homes.items():
        own = those[0].post.wafer
        match = min(fit.match for fit in those)
        some = len(those) > 1
        lines = " and ".join(_degrees(fit.post) for fit in those)
        if home == own:
            fitting = "that along " + " and that along ".join(_degrees(fit.pre) for fit in those)
        else:
            fitting = f"{'those' if some else 'that'} of wafer {home}"
        yield Notice(
            WarningCode.SWAP_SUSPECTED,
            f"the scan{'s' if some else ''} after of wafer {own} along {lines} "
            f"{'do' if some else 'does'} not fit {'their' if some else 'its'} own "
            f"scan{'s' if some else ''} before, but {fitting} (match {match:.2f}"
            f"{' or more' if some else ''}): were the files "
            f"{'of the azimuths' if home == own else 'or the wafers'} exchanged?",
        )


def _degrees(one: _Candidate) -> str:
    return f"{math.degrees(one.azimuth):.4g} deg"


def _apart(one: float, other: float) -> float:
    """Angle between two lines; a line has no direction."""
    return abs((one - other + math.pi / 2) % math.pi - math.pi / 2)


def mismatched(outcome: WaferOutcome) -> bool:
    """Whether the waviness of a wafer's scans was there to be matched, and does not match."""
    if outcome.result is None:
        return False
    return any(
        line.registration is not None
        and line.registration.texture
        and line.registration.match < LOW_MATCH
        for line in outcome.result.lines
    )


def _noticed(outcome: WaferOutcome, fits: Sequence[_Fit]) -> WaferOutcome:
    if not fits or outcome.result is None:
        return outcome
    result = replace(outcome.result, warnings=(*outcome.result.warnings, *_told(fits)))
    return replace(outcome, result=result)


def _textures(wafers: Iterable[WaferSpec], state: str) -> Iterable[_Candidate]:
    for wafer in wafers:
        for number, line in enumerate(wafer.lines):
            for one in line.states:
                if one.name == state and one.scan.path not in (None, "-"):
                    try:
                        yield _candidate(wafer, number, one)
                    except FilmstressError:
                        # Already reported with its own wafer.
                        continue


def _candidate(wafer: WaferSpec, number: int, state: State) -> _Candidate:
    spec, line = state.scan, wafer.lines[number]
    scan = read_scan(spec.path or "", spec.reading)
    trace = in_wafer_frame(scan, spec, line_azimuth_rad=line.azimuth.value)
    keep = particles_and_dropouts(trace).keep
    texture = prepare(trace.x, trace.z, keep=keep)
    return _Candidate(wafer.id, number, line.azimuth.value, texture, trace.origin, trace.backwards)


def _match(pre: _Candidate, post: _Candidate) -> float:
    stage = SharedStage(pre.origin - post.origin, reversed=pre.backwards != post.backwards)
    try:
        return register_textures(pre.texture, post.texture, stage=stage).match
    except FilmstressError:
        return 0.0
