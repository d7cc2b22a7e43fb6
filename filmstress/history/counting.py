"""Wafers of the history as charts and comparisons count them: every scan once."""

from __future__ import annotations

import json
from collections.abc import Sequence

from filmstress.history.questions import Choice, document, wafers
from filmstress.history.store import History
from filmstress.records.history import Found


def counted_wafers(history: History, choice: Choice) -> tuple[list[Found], tuple[int, ...]]:
    """Wafers with their budgets, and the entries that were passed over.

    A lot that was recorded again, of the same scans, is no second lot.  Of entries of one recipe
    and lot that hold a scan after deposition of the same wafer, the one recorded last counts.

    Parameters
    ----------
    history : History
    choice : Choice

    Returns
    -------
    rows : list of Found
        In the order of time.
    again : tuple of int
        Numbers of the entries of which a wafer was passed over.
    """
    rows = wafers(history, choice, with_terms=True)
    passed = _recomputed(history, rows)
    kept = [row for row in rows if (row.number, row.wafer.wafer) not in passed]
    return kept, tuple(sorted({number for number, _ in passed}))


def same_scans(history: History, entry: int, choice: Choice) -> tuple[int, ...]:
    """Earlier entries among those chosen that hold scans of this one."""
    rows = [row for row in wafers(history, choice) if row.number <= entry]
    return tuple(sorted({number for number, _ in _recomputed(history, rows)}))


def _recomputed(history: History, rows: Sequence[Found]) -> set[tuple[int, str]]:
    """Entry and wafer of what a later entry measured from the same scans."""
    entries: dict[tuple[str, str], set[int]] = {}
    for row in rows:
        entries.setdefault((row.recipe, row.lot), set()).add(row.number)
    passed: set[tuple[int, str]] = set()
    for numbers in entries.values():
        # Documents are long: only those of lots that stand there more than once are opened.
        if len(numbers) < 2:
            continue
        seen: set[tuple[str, str]] = set()
        for number in sorted(numbers, reverse=True):
            scans = _scans_after(history, number)
            passed |= {(number, wafer) for wafer, _ in scans & seen}
            seen |= scans
    return passed


def _scans_after(history: History, number: int) -> set[tuple[str, str]]:
    """Each wafer with the SHA-256 of its scans after deposition."""
    return {
        (str(wafer.get("id")), str(file.get("sha256")))
        for wafer in json.loads(document(history, number)).get("wafers") or ()
        for file in (wafer.get("inputs") or {}).get("files") or ()
        if file.get("state") == "post"
    }
