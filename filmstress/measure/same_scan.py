"""One file that stands for two scans: what cannot be, and repeats that are not independent."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from filmstress.measure.directions import same_direction
from filmstress.records.budget import Term
from filmstress.records.curvature import CurvatureChange
from filmstress.records.notice import Notice, RefusalCode
from filmstress.records.scan import ScanSource
from filmstress.records.wafer import THIS_WAFER, WaferSpec

# Terms of a line's change to which both of its scans contribute, by about as much.
_OF_BOTH_SCANS = ("curvature fit", "bow repeatability")
_SPOKEN = {"pre": "before", "post": "after"}


@dataclass(frozen=True, slots=True)
class Content:
    """What a scan holds.

    Attributes
    ----------
    key : hashable
        Equal for files that are the same: their bytes, and what is taken from them.
    of_map : bool
        Whether the scan is a line of a map of heights, which holds lines in all directions.
    """

    key: Hashable
    of_map: bool = False


@dataclass(frozen=True, slots=True)
class NamedScan:
    """One scan as a wafer names it, and what it holds.

    Attributes
    ----------
    wafer : str
    line : int
        Number of the line in its wafer.
    state : str
        "pre" or "post".
    azimuth : float
        Of the line [rad].
    path : str
    content : Content
    """

    wafer: str
    line: int
    state: str
    azimuth: float
    path: str
    content: Content

    @property
    def words(self) -> str:
        """``the scan after along 90 deg of wafer 02``."""
        along = f"{math.degrees(self.azimuth):.4g} deg"
        return f"the scan {_SPOKEN.get(self.state, self.state)} along {along} of {self.wafer}"


def named_scans(wafer: WaferSpec, contents: Iterable[Content]) -> list[NamedScan]:
    """The scans of a wafer with their contents, which come in the order of lines and states."""
    scans = (
        (number, line.azimuth.value, state)
        for number, line in enumerate(wafer.lines)
        for state in line.states
        if state.scan.path is not None
    )
    name = THIS_WAFER if wafer.id == THIS_WAFER else wafer.named
    return [
        NamedScan(name, number, state.name, azimuth, state.scan.path or "", content)
        for (number, azimuth, state), content in zip(scans, contents, strict=False)
    ]


def contents_of(files: Iterable[tuple[str, ScanSource]]) -> list[Content]:
    """What each scan of a measured wafer holds; the datum's own scan is not one of its scans."""
    return [content_of(source) for state, source in files if state != "datum"]


def content_of(source: ScanSource) -> Content:
    """What a scan that was read holds."""
    return Content(
        (source.sha256, source.position_column, source.height_column, source.trace),
        of_map=source.line_azimuth is not None,
    )


def same_scans(scans: Sequence[NamedScan]) -> dict[str, str]:
    """What is wrong where one scan is named twice, by the wafer's name in words.

    One scan before deposition may serve several repeats of its line; a scan after deposition may
    serve repeats with different scans before it.  Nothing else may be the same: not two wafers',
    not two azimuths' (but of a map), not before and after, and not a repeat in both of its scans.
    """
    found: dict[str, str] = {}
    groups: dict[Content, list[NamedScan]] = {}
    for scan in scans:
        groups.setdefault(scan.content, []).append(scan)
    lines: dict[tuple[str, int], dict[str, Content]] = {}
    for scan in scans:
        lines.setdefault((scan.wafer, scan.line), {})[scan.state] = scan.content
    for group in groups.values():
        for i, one in enumerate(group):
            for other in group[:i]:
                whole = lines[one.wafer, one.line] == lines[other.wafer, other.line]
                if problem := _problem(other, one, whole_line=whole):
                    found.setdefault(one.wafer, problem)
                    found.setdefault(other.wafer, problem)
    return found


def _problem(one: NamedScan, other: NamedScan, *, whole_line: bool) -> str:
    same_wafer, same_line = one.wafer == other.wafer, one.line == other.line
    if same_wafer and one.state == other.state and _one_direction(one, other):
        if not whole_line:
            return ""
        return (
            f"two entries of {one.wafer} name the same scans before and after ({one.path} is one): "
            "a repeat is a new scan; leave one entry out, or name the files of the repeat"
        )
    if same_wafer and one.state == other.state and one.content.of_map:
        return ""
    files = one.path if one.path == other.path else f"{one.path} and {other.path}"
    if same_wafer and same_line:
        return (
            f"the scans before and after of {one.wafer} hold the same bytes ({files}): nothing was "
            "compared; name the scan after deposition, or state pre_trace and post_trace (or "
            "pre_columns and post_columns) where one file holds both"
        )
    return (
        f"{one.words} and {other.words if not same_wafer else _short(other)} hold the same bytes "
        f"({files}), which two different scans never do: find out whose it is"
    )


def _short(scan: NamedScan) -> str:
    return scan.words.removesuffix(f" of {scan.wafer}")


def _one_direction(one: NamedScan, other: NamedScan) -> bool:
    return same_direction(one.azimuth, other.azimuth)


def refusal_of_same(
    wafer: WaferSpec,
    files: Sequence[tuple[str, ScanSource]],
    lines: Sequence[CurvatureChange],
) -> Notice | None:
    """The refusal of a wafer that names one scan for two, or whose scans hold equal heights."""
    for problem in same_scans(named_scans(wafer, contents_of(files))).values():
        return Notice(RefusalCode.SAME_SCAN, problem)
    for line in lines:
        if line.pre is None:
            continue
        before, after = line.pre.trace.z, line.post.trace.z
        if np.array_equal(before, after) or np.array_equal(before, after[::-1]):
            return Notice(
                RefusalCode.SAME_SCAN,
                f"the scans before and after along {math.degrees(line.azimuth):.4g} deg hold the "
                "same heights, point for point: one was copied from the other, and nothing was "
                "compared",
            )
    return None


def with_shared_scans(
    wafer: WaferSpec, files: Sequence[tuple[str, ScanSource]], lines: Sequence[CurvatureChange]
) -> tuple[CurvatureChange, ...]:
    """The lines, with what repeats take from one and the same scan named alike in all of them.

    Half of the variance of a difference is that of each of its scans.  The half of a scan that
    several repeats share does not average away in their mean.
    """
    groups: list[list[NamedScan]] = []
    for scan in named_scans(wafer, contents_of(files)):
        for group in groups:
            if _one_scan(group[0], scan):
                group.append(scan)
                break
        else:
            groups.append([scan])
    shared: dict[int, str] = {}
    for group in groups:
        if len(group) > 1:
            first = group[0]
            along = f", {math.degrees(first.azimuth):.4g} deg" if first.content.of_map else ""
            for scan in group:
                shared[scan.line] = f"scan {first.path}{along}"
    return tuple(
        replace(line, terms=tuple(_halves(line.terms, shared[number])))
        if number in shared
        else line
        for number, line in enumerate(lines)
    )


def _one_scan(one: NamedScan, other: NamedScan) -> bool:
    """Whether two entries name one and the same scan; lines of a map cross, and are others."""
    return one.content == other.content and (not one.content.of_map or _one_direction(one, other))


def _halves(terms: Iterable[Term], common_to: str) -> Iterable[Term]:
    for one in terms:
        if one.input in _OF_BOTH_SCANS and not one.common_to:
            half = replace(one, u=one.u * math.sqrt(0.5))
            yield half
            yield replace(half, common_to=common_to)
        else:
            yield one
