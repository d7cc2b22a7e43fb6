"""Wafers of the history that were measured more than once: readings for a study of the gauge."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from filmstress.errors import HistoryError
from filmstress.history.questions import Choice, document, wafers
from filmstress.history.store import History
from filmstress.records.history import Found
from filmstress.records.study import Reading, Readings

LABELS = ("operator", "instrument", "date")

Json = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class _Measured:
    """One record of one wafer, and what of its inputs repeats may share."""

    found: Found
    labels: Mapping[str, str]
    scans: frozenset[str]
    before: frozenset[str]
    thicknesses: tuple[float | None, ...]


def repeated_stresses(history: History, choice: Choice) -> Readings:
    """The stresses of wafers that stand in several records, one reading a record.

    Entries that were corrected do not count, nor does a record of scans that another one holds
    already: computing again is not measuring again.

    Parameters
    ----------
    history : History
    choice : Choice

    Returns
    -------
    Readings
        Stresses [Pa], with operator, instrument and date of the scans after deposition.

    Raises
    ------
    HistoryError
        No wafer was measured twice.
    """
    rows = [
        row
        for row in wafers(history, choice)
        if row.wafer.role == "product" and row.wafer.stress is not None
    ]
    if not rows:
        raise HistoryError(
            "no recorded wafer with a stress fits",
            where=history.place,
            hint="filmstress history recipes lists what is recorded",
        )
    groups: dict[tuple[str, str, str], list[Found]] = {}
    for row in rows:
        groups.setdefault((row.recipe, row.lot, row.wafer.wafer), []).append(row)
    again = [those for those in groups.values() if len(those) > 1]
    documents: dict[int, Mapping[str, Json]] = {}
    repeated, recomputed = [], 0
    for those in again:
        measured = [_measured(row, documents, history) for row in those]
        own = _independent(measured)
        recomputed += len(measured) - len(own)
        if len(own) > 1:
            repeated.append(own)
    if not repeated:
        told = f"{len(groups)} wafers with a stress are recorded here, and none was measured twice"
        if recomputed:
            told += f" ({recomputed} records compute the scans of another again)"
        raise HistoryError(
            told,
            where=history.place,
            hint="scan some wafers again and record them under the same lot, recipe and wafer id",
        )
    name = _namer([one[0].found for one in repeated])
    return Readings(
        source=history.place,
        what="stress",
        unit="Pa",
        rows=tuple(
            Reading(name(one.found), one.found.wafer.stress or 0.0, one.labels)
            for those in repeated
            for one in those
        ),
        limits=_limits(repeated, rows),
        remarks=tuple(_remarks(repeated, len(groups), recomputed)),
    )


def _measured(row: Found, documents: dict[int, Mapping[str, Json]], history: History) -> _Measured:
    if row.number not in documents:
        held = json.loads(document(history, row.number))
        documents[row.number] = {str(one["id"]): one["inputs"] for one in held.get("wafers", ())}
    inputs = documents[row.number].get(row.wafer.wafer, {})
    files = inputs.get("files") or ()
    of_state = {
        state: frozenset(str(file["sha256"]) for file in files if file.get("state") == state)
        for state in ("pre", "post")
    }
    after = [line.get("post") or {} for line in inputs.get("lines") or ()]
    labels = {}
    for name in LABELS:
        told = {str(scan.get(name) or "") for scan in after}
        # Scans of one stress by two operators belong to neither.
        labels[name] = told.pop() if len(told) == 1 else ""
    thicknesses = tuple(
        ((inputs.get(part) or {}).get("thickness") or {}).get("value")
        for part in ("substrate", "film")
    )
    return _Measured(row, labels, of_state["post"], of_state["pre"], thicknesses)


def _independent(measured: Sequence[_Measured]) -> list[_Measured]:
    """Those that share no scan after deposition with an earlier one."""
    kept: list[_Measured] = []
    for one in measured:
        if not any(one.scans & other.scans for other in kept):
            kept.append(one)
    return kept


def _namer(repeated: Sequence[Found]) -> Callable[[Found], str]:
    """Names wafers by as much as tells them apart: a lot may have been through two recipes."""
    recipes, lots = ({getattr(one, name) for one in repeated} for name in ("recipe", "lot"))

    def name(found: Found) -> str:
        parts = [found.recipe] * (len(recipes) > 1) + [found.lot] * (len(lots) > 1)
        return "/".join([*parts, found.wafer.wafer])

    return name


def _limits(
    repeated: Sequence[Sequence[_Measured]], rows: Sequence[Found]
) -> tuple[float, float] | None:
    """Those of the latest lot; of several recipes there is no one tolerance."""
    recipes = {one.found.recipe for those in repeated for one in those}
    latest = next(row for row in reversed(rows) if row.recipe in recipes)
    if len(recipes) > 1 or latest.lower is None or latest.upper is None:
        return None
    return latest.lower, latest.upper


def _remarks(repeated: Sequence[Sequence[_Measured]], among: int, recomputed: int) -> Iterator[str]:
    yield f"{len(repeated)} of {among} recorded wafers were measured more than once."
    if recomputed:
        yield f"{recomputed} records compute the scans of another again, and were left out."
    before = sum(any(_share(those)) for those in repeated)
    if before:
        yield (
            f"Repeats of {before} wafers share the scan before deposition: what that scan adds to "
            "the stress does not show in their scatter."
        )
    restated = sum(len({one.thicknesses for one in those}) > 1 for those in repeated)
    if restated:
        yield (
            f"Of {restated} wafers the thickness of film or substrate is stated differently in "
            "different records: that difference is in the scatter."
        )
    yield (
        "What the records of a wafer share (its modulus, its thicknesses) cancels in their "
        "differences: this is how the measurement repeats, not how true the stress is. What the "
        "film itself did between the measurements counts as the gauge's."
    )


def _share(those: Sequence[_Measured]) -> Iterator[bool]:
    for i, one in enumerate(those):
        yield any(one.before & other.before for other in those[:i])
