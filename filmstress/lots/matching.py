"""Mixed-up scans: whose scan before it fits, where a scan after does not fit its own."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from filmstress.errors import FilmstressError
from filmstress.lots.running import Run
from filmstress.records.lot import WaferOutcome
from filmstress.records.notice import Notice, WarningCode
from filmstress.records.wafer import ScanSpec, WaferSpec
from filmstress.scans.curvature import particles_and_dropouts
from filmstress.scans.frame import in_wafer_frame
from filmstress.scans.placing import SharedStage
from filmstress.scans.reading.scan_file import read_scan
from filmstress.scans.registration import LOW_MATCH, register_textures
from filmstress.scans.texture import Texture, prepare

_SAME_AZIMUTH = math.radians(3.0)
# Where a whole lot does not match, files were not exchanged but something else is wrong; and every
# scan with every other would take hours.
_MOST_COMPARED, _LEAST_SUSPECTS = 20_000, 8
# Suspects looked for in one going through the scans before: what is sent to a worker stays small.
_TOGETHER = 16


@dataclass(frozen=True, slots=True)
class _Line:
    wafer: str
    number: int
    azimuth: float


@dataclass(frozen=True, slots=True, eq=False)
class _Candidate:
    line: _Line
    texture: Texture
    origin: float
    backwards: bool


@dataclass(frozen=True, slots=True)
class _Fit:
    """A line whose scan after fits the scan before of another line."""

    post: _Line
    pre: _Line
    match: float


Swaps = dict[str, list[_Fit]]


def find_swaps(wafers: Sequence[WaferSpec], outcomes: Sequence[WaferOutcome], run: Run) -> Swaps:
    """Find the post scans that fit another pre scan than their own, by the wafer's id.

    Costs nothing where every wafer's scans match; otherwise the scans before deposition are read
    once more and compared with the post scans that do not match their own.

    Parameters
    ----------
    wafers, outcomes : sequences, in the same order
        What was asked and found.
    run : callable
        Where to compare.
    """
    suspects = [
        wafer for wafer, outcome in zip(wafers, outcomes, strict=True) if mismatched(outcome)
    ][: max(_LEAST_SUSPECTS, _MOST_COMPARED // max(len(wafers), 1))]
    found: Swaps = {}
    for start in range(0, len(suspects), _TOGETHER):
        after = [post for wafer in suspects[start : start + _TOGETHER] for post in _unlike(wafer)]
        best: dict[_Line, _Fit] = {}
        for fits in run(partial(_fits, after=after), wafers) if after else ():
            for fit in fits or ():
                if fit.post not in best or fit.match > best[fit.post].match:
                    best[fit.post] = fit
        for post in after:
            if post.line in best:
                found.setdefault(post.line.wafer, []).append(best[post.line])
    return found


def with_swaps(outcomes: Sequence[WaferOutcome], swaps: Swaps) -> tuple[WaferOutcome, ...]:
    """The outcomes, with a warning where a post scan fits another pre scan than its own."""
    return tuple(_noticed(outcome, swaps.get(outcome.id, [])) for outcome in outcomes)


def _unlike(wafer: WaferSpec) -> list[_Candidate]:
    """The post scans of a wafer that match none of its own pre scans along their line."""
    before = list(_textures(wafer, "pre"))
    return [
        post
        for post in _textures(wafer, "post")
        if max((_match(pre, post) for pre in before if pre.line == post.line), default=1.0)
        < LOW_MATCH
    ]


def _fits(wafer: WaferSpec, *, after: Sequence[_Candidate]) -> list[_Fit]:
    """The post scans that the pre scans of a wafer fit."""
    fits = []
    for pre in _textures(wafer, "pre"):
        for post in after:
            if _could_be_meant(pre.line, post.line):
                match = _match(pre, post)
                if match > LOW_MATCH:
                    fits.append(_Fit(post.line, pre.line, match))
    return fits


def _could_be_meant(pre: _Line, post: _Line) -> bool:
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
            fitting = (
                ("those" if some else "that")
                + " along "
                + " and ".join(_degrees(fit.pre) for fit in those)
            )
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


def _degrees(one: _Line) -> str:
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


def _textures(wafer: WaferSpec, state: str) -> Iterable[_Candidate]:
    for number, line in enumerate(wafer.lines):
        for one in line.states:
            if one.name == state and one.scan.path not in (None, "-"):
                try:
                    yield _candidate(_Line(wafer.id, number, line.azimuth.value), one.scan)
                except FilmstressError:
                    # Already reported with its own wafer.
                    continue


def _candidate(line: _Line, spec: ScanSpec) -> _Candidate:
    scan = read_scan(spec.path or "", spec.reading)
    trace = in_wafer_frame(scan, spec, line_azimuth_rad=line.azimuth)
    keep = particles_and_dropouts(trace).keep
    texture = prepare(trace.x, trace.z, keep=keep)
    return _Candidate(line, texture, trace.origin, trace.backwards)


def _match(pre: _Candidate, post: _Candidate) -> float:
    stage = SharedStage(pre.origin - post.origin, reversed=pre.backwards != post.backwards)
    try:
        return register_textures(pre.texture, post.texture, stage=stage).match
    except FilmstressError:
        return 0.0
