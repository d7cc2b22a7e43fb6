"""Scan files of a lot that hold the same bytes where they must differ."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

from filmstress.measure.same_scan import Content, named_scans, same_scans
from filmstress.measure.wafer import without_stress
from filmstress.records.lot import WaferOutcome
from filmstress.records.notice import Notice, RefusalCode
from filmstress.records.wafer import ScanSpec, WaferSpec
from filmstress.scans.reading.map_file import holds_map


def same_files(
    wafers: Sequence[WaferSpec], *, digests: Mapping[str, str] | None = None
) -> dict[str, str]:
    """What is wrong, by the wafer's id, where one scan stands for two in a lot.

    Only files of equal size are read; a file that cannot be read is not among them.

    Parameters
    ----------
    wafers : sequence of WaferSpec
    digests : mapping, optional
        SHA-256 of files that have been read already, by path.
    """
    specs = {
        wafer.id: [
            state.scan
            for line in wafer.lines
            for state in line.states
            if state.scan.path is not None
        ]
        for wafer in wafers
    }
    sizes: dict[int, set[str]] = {}
    named: dict[str, int] = {}
    for spec in (spec for those in specs.values() for spec in those):
        path = spec.path or ""
        named[path] = named.get(path, 0) + 1
        if (size := _size(path)) is not None:
            sizes.setdefault(size, set()).add(path)
    known = digests or {}
    digests = {
        path: digest
        for paths in sizes.values()
        if len(paths) > 1 or any(named[path] > 1 for path in paths)
        for path in paths
        if (digest := known.get(path) or _digest(path)) is not None
    }
    is_map = cache(holds_map)
    scans = [
        scan
        for wafer in wafers
        for scan in named_scans(
            wafer, [_content(spec, digests, is_map) for spec in specs[wafer.id]]
        )
    ]
    found = same_scans(scans)
    return {
        wafer.id: found[f"wafer {wafer.id}"] for wafer in wafers if f"wafer {wafer.id}" in found
    }


def refused_where_same(
    outcomes: Sequence[WaferOutcome], found: dict[str, str]
) -> tuple[WaferOutcome, ...]:
    """The outcomes, those refused that `same_files` says something of."""
    return tuple(
        _refused(outcome, Notice(RefusalCode.SAME_SCAN, found[outcome.id]))
        if outcome.id in found and outcome.refusal is None
        else outcome
        for outcome in outcomes
    )


def _refused(outcome: WaferOutcome, refusal: Notice) -> WaferOutcome:
    result = outcome.result
    if result is not None:
        result = replace(without_stress(result), refusal=refusal)
    return replace(outcome, result=result, refusal=refusal)


def _content(spec: ScanSpec, digests: Mapping[str, str], is_map: Callable[[str], bool]) -> Content:
    digest = digests.get(spec.path or "")
    # What could not be read, or is like no other, is like nothing.
    if digest is None:
        return Content(object())
    # Not stated, it is the only scan of its file.
    trace = (spec.reading.trace or "1").strip().casefold()
    return Content((digest, spec.reading.columns, trace), of_map=is_map(spec.path or ""))


def _size(path: str) -> int | None:
    try:
        file = Path(path)
        return file.stat().st_size if file.is_file() else None
    except (OSError, ValueError):
        return None


def _digest(path: str) -> str | None:
    try:
        with Path(path).open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None
