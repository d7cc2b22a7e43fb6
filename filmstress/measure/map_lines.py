"""Lines taken from maps of heights: which, and what those of one map have in common."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from filmstress.inputs.keys import keys_of
from filmstress.inputs.scan_parts import LineInput, located
from filmstress.inputs.settings import Setting, Settings
from filmstress.measure.same_scan import Content, contents_of, named_scans
from filmstress.records.budget import Term
from filmstress.records.curvature import CurvatureChange
from filmstress.records.scan import ScanSource
from filmstress.records.wafer import WaferSpec
from filmstress.scans.reading.scan_file import holds_map
from filmstress.stats.crossing_lines import curvature_correlation

# Three directions tell the whole tensor of curvature; the fourth says whether it is one.
DIRECTIONS_DEG = (0, 45, 90, 135)


def with_directions(
    lines: Iterable[LineInput],
    settings: Settings,
    *,
    base: Path | None = None,
    is_map: Callable[[str], bool] = holds_map,
) -> list[LineInput]:
    """The lines to measure: where only maps are named and no azimuth, several of each.

    Parameters
    ----------
    lines : iterable of LineInput
        As written.
    settings : Settings
        What is stated for all of them.
    base : Path, optional
        Folder that relative paths start from.
    is_map : callable
        Says whether a path holds a map.
    """
    found: list[LineInput] = []
    for line in lines:
        paths = [located(path, base) for path in line.paths.values() if path is not None]
        stated = {name for _, name in settings.overlaid(line.settings).scan}
        if "azimuth" not in stated and paths and all(is_map(path or "") for path in paths):
            found += (_along(line, degrees) for degrees in DIRECTIONS_DEG)
        else:
            found.append(line)
    return found


def _along(line: LineInput, degrees: int) -> LineInput:
    azimuth = Setting(keys_of("scan")["azimuth"], f"{degrees} deg", f"{line.where}, azimuth", "")
    own = Settings()
    own.put(azimuth)
    where = f"{line.where}, line at {degrees} deg"
    return replace(line, settings=line.settings.overlaid(own), where=where)


def with_shared_maps(
    wafer: WaferSpec, files: Sequence[tuple[str, ScanSource]], lines: Sequence[CurvatureChange]
) -> tuple[CurvatureChange, ...]:
    """The lines, with what those of one pair of maps share named alike in all of them.

    Lines through the middle of a map cross there, and noise that is correlated over a length is
    alike on all of them; a map drifts as a whole.

    Notes
    -----
    The part of the fits' variance that is shared is their mean correlation over all pairs of
    lines: right for the mean of the lines, and to a few per cent for differences between them.
    Drift (``bow_repeatability``) is taken as the same along all lines.
    """
    changed = list(lines)
    for path, numbers in _of_one_pair(wafer, files).items():
        group = [lines[number] for number in numbers]
        if len(group) < 2:
            continue
        shared = _mean_correlation(group)
        for number in numbers:
            terms = _parted(lines[number].terms, shared, f"map {path}")
            changed[number] = replace(lines[number], terms=tuple(terms))
    return tuple(changed)


def _of_one_pair(wafer: WaferSpec, files: Sequence[tuple[str, ScanSource]]) -> dict[str, list[int]]:
    """Numbers of the lines that come from the same maps, by the path of the last of these."""
    pairs: dict[int, list[Content]] = {}
    paths: dict[tuple[Content, ...], str] = {}
    for scan in named_scans(wafer, contents_of(files)):
        pairs.setdefault(scan.line, []).append(scan.content)
        paths[tuple(pairs[scan.line])] = scan.path
    found: dict[str, list[int]] = {}
    for number, contents in pairs.items():
        if all(content.of_map for content in contents):
            found.setdefault(paths[tuple(contents)], []).append(number)
    return found


def _mean_correlation(lines: Sequence[CurvatureChange]) -> float:
    """Mean over all pairs of lines of the correlation between their fits."""
    fits = [line.change for line in lines]
    size = math.fsum(fit.length for fit in fits) / len(fits)
    slow = [(fit.correlation_length, 1.0 - fit.white_share) for fit in fits]
    weight = math.fsum(share for _, share in slow)
    if size <= 0.0 or weight <= 0.0 or any(length <= 0.0 for length, _ in slow):
        return 0.0
    # One noise lies over the whole map; the lines estimate it together.
    log_length = math.fsum(share * math.log(length) for length, share in slow) / weight
    angles = np.array([a.azimuth - b.azimuth for a, b in itertools.combinations(lines, 2)])
    found = curvature_correlation(
        angles,
        correlation_length=math.exp(log_length) / size,
        white_share=1.0 - weight / len(lines),
    )
    return min(max(float(found.mean()), 0.0), 1.0)


def _parted(terms: Iterable[Term], shared: float, common_to: str) -> Iterable[Term]:
    for one in terms:
        if one.common_to:
            yield one
        elif one.input == "bow repeatability":
            yield replace(one, common_to=common_to)
        elif one.input == "curvature fit" and shared > 0.0:
            yield replace(one, u=one.u * math.sqrt(1.0 - shared))
            yield replace(one, u=one.u * math.sqrt(shared), common_to=common_to)
        else:
            yield one
