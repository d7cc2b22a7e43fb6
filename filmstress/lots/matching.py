"""Mixed-up scans: whose scan before it fits, where a scan after does not fit its own."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from filmstress.errors import FilmstressError
from filmstress.records.lot import WaferOutcome
from filmstress.records.notice import Notice, WarningCode
from filmstress.records.wafer import LineSpec, State, WaferSpec
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
    azimuth: float
    texture: Texture
    origin: float
    backwards: bool


def with_swaps(
    wafers: Sequence[WaferSpec], outcomes: Sequence[WaferOutcome]
) -> tuple[WaferOutcome, ...]:
    """The outcomes, with a warning on each wafer whose post scan fits another wafer's pre scan.

    Costs nothing where every wafer's scans match; otherwise the scans before deposition are read
    once more and compared with every post scan that does not match its own.

    Parameters
    ----------
    wafers, outcomes : sequences, in the same order
        What was asked and found.
    """
    suspects = [outcome.id for outcome in outcomes if _mismatched(outcome)]
    if not suspects:
        return tuple(outcomes)
    before = list(_textures(wafers, "pre"))
    after = list(_textures([wafer for wafer in wafers if wafer.id in suspects], "post"))
    notices: dict[str, list[Notice]] = {}
    for post in after:
        best, match = None, LOW_MATCH
        for pre in before:
            if pre.wafer == post.wafer or _apart(pre.azimuth, post.azimuth) > _SAME_AZIMUTH:
                continue
            found = _match(pre, post)
            if found > match:
                best, match = pre, found
        if best is not None:
            notices.setdefault(post.wafer, []).append(
                Notice(
                    WarningCode.SWAP_SUSPECTED,
                    f"the scan after of wafer {post.wafer} does not fit its own scan before, but "
                    f"that of wafer {best.wafer} (match {match:.2f}): were the files or the wafers "
                    "exchanged?",
                )
            )
    return tuple(_noticed(outcome, notices.get(outcome.id, [])) for outcome in outcomes)


def _apart(one: float, other: float) -> float:
    """Angle between two lines; a line has no direction."""
    return abs((one - other + math.pi / 2) % math.pi - math.pi / 2)


def _mismatched(outcome: WaferOutcome) -> bool:
    if outcome.result is None:
        return False
    return any(
        line.registration is not None
        and line.registration.texture
        and line.registration.match < LOW_MATCH
        for line in outcome.result.lines
    )


def _noticed(outcome: WaferOutcome, notices: list[Notice]) -> WaferOutcome:
    if not notices or outcome.result is None:
        return outcome
    result = replace(outcome.result, warnings=(*outcome.result.warnings, *notices))
    return replace(outcome, result=result)


def _textures(wafers: Iterable[WaferSpec], state: str) -> Iterable[_Candidate]:
    for wafer in wafers:
        for line in wafer.lines:
            for one in line.states:
                if one.name == state and one.scan.path not in (None, "-"):
                    try:
                        yield _candidate(wafer, line, one)
                    except FilmstressError:
                        # Already reported with its own wafer.
                        continue


def _candidate(wafer: WaferSpec, line: LineSpec, state: State) -> _Candidate:
    spec = state.scan
    scan = read_scan(spec.path or "", spec.reading)
    trace = in_wafer_frame(scan, spec, line_azimuth_rad=line.azimuth.value)
    keep = particles_and_dropouts(trace).keep
    texture = prepare(trace.x, trace.z, keep=keep)
    return _Candidate(wafer.id, line.azimuth.value, texture, trace.origin, trace.backwards)


def _match(pre: _Candidate, post: _Candidate) -> float:
    stage = SharedStage(pre.origin - post.origin, reversed=pre.backwards != post.backwards)
    try:
        return register_textures(pre.texture, post.texture, stage=stage).match
    except FilmstressError:
        return 0.0
