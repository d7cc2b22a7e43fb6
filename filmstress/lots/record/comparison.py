"""Results recomputed against results recorded, both as plain data.

On the same machine with the same versions every number comes out the same to the last bit.  On
another kind of processor sums are taken in another order, and where the noise model has a flat
optimum its search ends a little beside: between processor kernels the stresses of the demonstration
lots moved by up to 3e-5 of their expanded uncertainty U, curvatures by 8e-5.  A quantity is the
same here if it moved by no more than 1e-3 of its U, which cannot be seen in any digit printed.
Numbers of the workings (fits, shares of a budget) have no U of their own; they are counted, not
judged.  What is no fractional number (decision, codes, counts, words) has to be the same.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import PurePath
from typing import Any

from filmstress.lots.record.canonical import Data
from filmstress.records.quantity import Estimate
from filmstress.records.verification import Comparison, Difference, WaferThenNow

TOLERANCE = 1e-3

_HEADLINES = ("stress", "force_per_width")
_WORKINGS = frozenset({"fit", "lines", "registration", "axis"})
# Where files lie now, and their bytes, are compared by themselves.
_ELSEWHERE = frozenset({"filmstress", "file", "datum", "sha256"})
_WORDS = frozenset({"message", "reason", "read_as", "notes"})
_MOST_LISTED = 3


@dataclass(slots=True)
class _Tally:
    """What the walk through both results has found."""

    strict: bool  # whether words, and what only one of the two has, are to be the same
    folders: tuple[str, str]
    numbers: int = 0
    unequal: int = 0
    largest_share: float = 0.0
    entries: list[tuple[str, str, str]] = field(default_factory=list)


def compare(then: Data, now: Data, *, same_program: bool) -> Comparison:
    """Compare a lot's results.

    Parameters
    ----------
    then, now : dict
        In the form of ``lot --json``.
    same_program : bool
        Whether both come from one version of filmstress on one system; only then are words, and
        entries that only one of the two has, held against each other.
    """
    tally = _Tally(same_program, (_folder(then), _folder(now)))
    _walk(then, now, "", None, tally)
    rows = tuple(_rows(then, now))
    differences = [Difference("wafer", row.id, *_told(row)) for row in rows if not row.same]
    decided, decides = (_text(data.get("decision")) for data in (then, now))
    if decided != decides:
        told = f"{decided or 'none'} then, {decides or 'none'} now"
        differences.append(Difference("decision", "", told, decided, decides))
    # A stress that moved takes its workings with it.
    if tally.entries and not differences:
        differences.append(_others(tally.entries))
    return Comparison(
        rows,
        decided,
        decides,
        tuple(differences),
        tally.numbers,
        tally.unequal,
        tally.largest_share,
        TOLERANCE,
    )


def _walk(then: Any, now: Any, path: str, expanded: float | None, tally: _Tally) -> None:
    """Compare two trees; ``expanded`` is the U of the quantity that they are a part of."""
    if isinstance(then, dict) and isinstance(now, dict):
        if "expanded_uncertainty" in then:
            found = then["expanded_uncertainty"]
            expanded = found if _is_number(found) and not _in_workings(path) else None
        for key in then.keys() | now.keys():
            if key in _ELSEWHERE or (key in _WORDS and not tally.strict):
                continue
            where = f"{path}.{key}" if path else key
            if key in then and key in now:
                _walk(then[key], now[key], where, _passed_on(key, expanded), tally)
            elif tally.strict:
                tally.entries.append((where, _shown(then, key), _shown(now, key)))
    elif isinstance(then, list) and isinstance(now, list) and len(then) == len(now):
        for index, (before, after) in enumerate(zip(then, now, strict=True)):
            name = before.get("id", index) if isinstance(before, dict) else index
            _walk(before, after, f"{path}[{name}]", expanded, tally)
    elif _is_number(then) and _is_number(now):
        _number(then, now, path, expanded, tally)
    elif isinstance(then, str) and isinstance(now, str):
        told = [
            text.replace(folder, "")
            for text, folder in zip((then, now), tally.folders, strict=True)
        ]
        if told[0] != told[1]:
            tally.entries.append((path, then, now))
    elif type(then) is not type(now) or then != now:
        tally.entries.append((path, _short(then), _short(now)))


def _number(then: float, now: float, path: str, expanded: float | None, tally: _Tally) -> None:
    tally.numbers += 1
    if then == now and type(then) is type(now):
        return
    tally.unequal += 1
    if isinstance(then, int) and isinstance(now, int):
        tally.entries.append((path, str(then), str(now)))
    elif expanded:
        share = abs(now - then) / abs(expanded)
        tally.largest_share = max(tally.largest_share, share)
        if not share <= TOLERANCE:
            tally.entries.append((path, f"{then:.9g}", f"{now:.9g}"))


def _passed_on(key: str, expanded: float | None) -> float | None:
    """The U that a part of a quantity is judged by; k and degrees of freedom are not."""
    judged = ("value", "standard_uncertainty", "expanded_uncertainty", "interval")
    return expanded if key in judged else None


def _rows(then: Data, now: Data) -> Iterator[WaferThenNow]:
    before, after = _by_id(then), _by_id(now)
    for name in dict.fromkeys((*before, *after)):
        pair = before.get(name, {}), after.get(name, {})
        quantity = next((key for key in _HEADLINES if any(one.get(key) for one in pair)), "stress")
        found = [_estimate(one.get(quantity)) for one in pair]
        codes = [_code(one.get("refusal")) for one in pair]
        own = _Tally(False, ("", ""))
        _walk(pair[0].get(quantity), pair[1].get(quantity), "", None, own)
        same = not own.entries and codes[0] == codes[1] and name in before and name in after
        yield WaferThenNow(name, quantity, found[0], found[1], codes[0], codes[1], same)


def _told(row: WaferThenNow) -> tuple[str, str | None, str | None]:
    codes = row.refusal_then, row.refusal_now
    if codes[0] != codes[1]:
        words = [f"refused ({code})" if code else "not refused" for code in codes]
        return f"{words[0]} then, {words[1]} now", *codes
    if row.moved is None:
        return "has no result to compare with", None, None
    share = "" if row.share is None else f" by {abs(row.share):.2g} of U"
    if row.share is not None and abs(row.share) <= TOLERANCE:
        return f"the uncertainty of its {row.quantity.replace('_', ' ')} differs", None, None
    return f"{row.quantity.replace('_', ' ')} moved{share}", None, None


def _others(entries: list[tuple[str, str, str]]) -> Difference:
    # The value of a quantity says more than the ends of its interval.
    entries = sorted(entries, key=lambda entry: (not entry[0].endswith(".value"), entry))
    listed = "; ".join(
        f"{path}: {then} then, {now} now" for path, then, now in entries[:_MOST_LISTED]
    )
    count = len(entries)
    return Difference(
        "results",
        "",
        f"{count} {'entry' if count == 1 else 'entries'} beside the stresses: {listed}",
    )


def _by_id(results: Data) -> dict[str, Data]:
    wafers = results.get("wafers")
    found = [one for one in wafers if isinstance(one, dict)] if isinstance(wafers, list) else []
    return {str(one.get("id")): one for one in found}


def _estimate(data: Any) -> Estimate | None:
    if not isinstance(data, dict) or not _is_number(data.get("value")):
        return None
    numbers = [
        found if _is_number(found := data.get(key)) else None
        for key in ("standard_uncertainty", "degrees_of_freedom", "coverage_factor")
    ]
    u, dof, k = numbers
    low, high = (
        interval
        if isinstance(interval := data.get("interval"), list) and len(interval) == 2
        else (None, None)
    )
    p: Any = data.get("coverage_probability")
    return Estimate(
        value=float(data["value"]),
        unit=str(data.get("unit")),
        u=u,
        dof=math.inf if dof is None else dof,
        k=k,
        p=p if _is_number(p) else 0.95,
        low=low if _is_number(low) else None,
        high=high if _is_number(high) else None,
    )


def _code(refusal: Any) -> str | None:
    return (
        None
        if refusal is None
        else _text(refusal.get("code") if isinstance(refusal, dict) else refusal)
    )


def _folder(results: Data) -> str:
    """The part that paths of one lot have in common, as they stand in messages."""
    inputs = results.get("inputs")
    file = _text(inputs.get("file")) if isinstance(inputs, dict) else None
    folder = str(PurePath(file or "").parent)
    return folder + "/" if len(folder) > 1 else "\0"


def _in_workings(path: str) -> bool:
    return not _WORKINGS.isdisjoint(path.replace("[", ".").split("."))


def _is_number(value: Any) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return abs(value) <= sys.float_info.max  # a whole number in JSON has no end


def _text(value: Any) -> str | None:
    return None if value is None else str(value)


def _shown(data: Data, key: str) -> str:
    return _short(data[key]) if key in data else "nothing"


def _short(value: Any) -> str:
    text = "null" if value is None else str(value)
    return text if len(text) <= 40 else text[:37] + "..."
