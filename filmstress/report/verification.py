"""What came of verifying a record, for readers: data and words."""

from __future__ import annotations

from collections.abc import Iterator

from filmstress.records.quantity import Estimate
from filmstress.records.verification import Comparison, Verification, WaferThenNow
from filmstress.report.columns import columns
from filmstress.report.quantities import Data, bare_data, headed, number, quantity_data
from filmstress.report.text import WIDTH, wrapped
from filmstress.report.words import say_estimate, say_value

_LABEL = 12


def verification_data(found: Verification, version: str) -> Data:
    """Everything found, in SI units."""
    comparison = found.comparison
    return {
        **headed("verification", version),
        "inputs": {"record": found.path, "folder": found.folder},
        "verdict": _verdict(found),
        "record": {
            "number": found.number,
            "sha256": found.sha256,
            "lot": found.lot,
            "time": found.time,
            "filmstress": found.version,
            "records_in_folder": found.records,
        },
        "differences": [
            {
                "about": one.about,
                "name": one.name or None,
                "message": one.message,
                "then": one.then,
                "now": one.now,
            }
            for one in found.differences
        ],
        "notes": list(found.notes),
        "decision": None
        if comparison is None
        else {"then": comparison.decision_then, "now": comparison.decision_now},
        "numbers": None
        if comparison is None
        else {
            "compared": comparison.numbers,
            "not_identical": comparison.unequal,
            "largest_move": number(comparison.largest_share),
            "tolerance": comparison.tolerance,
        },
        "wafers": [] if comparison is None else [_wafer_data(one) for one in comparison.wafers],
        "warnings": [],
    }


def _verdict(found: Verification) -> str:
    return "same" if found.same else "different"


def _wafer_data(one: WaferThenNow) -> Data:
    told = one.then or one.now
    return {
        "id": one.id,
        "same": one.same,
        "quantity": one.quantity,
        "then": quantity_data(one.then),
        "now": quantity_data(one.now),
        "refusal_then": one.refusal_then,
        "refusal_now": one.refusal_now,
        "moved": None if told is None else bare_data(one.moved, told.unit),
        "moved_share_of_expanded_uncertainty": number(one.share),
    }


def verification_text(found: Verification) -> str:
    """What was found, for a terminal: the verdict, what differs, each wafer then and now."""
    blocks = [
        list(_head(found)),
        list(_facts(found)),
        list(_wafers(found.comparison)),
        [line for note in found.notes for line in wrapped(note, "  note: ", WIDTH)],
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block)


def _head(found: Verification) -> Iterator[str]:
    time = found.time.replace("T", " ").replace("Z", " UTC")
    yield f"Record {found.number:04} of lot {found.lot}, measured {time}"
    if found.same:
        yield "  SAME: record, files, numbers and decision are as they were"
        return
    count = len(found.differences)
    yield f"  DIFFERENT: {count} thing{'s are' if count > 1 else ' is'} not as recorded"
    yield ""
    for one in found.differences:
        yield from wrapped(
            one.message, f"  {' '.join(filter(None, (one.about, one.name)))}: ", WIDTH
        )


def _facts(found: Verification) -> Iterator[str]:
    about = {one.about for one in found.differences}
    files = {"lot file", "wafer table", "scan"}
    changed = sum(one.about in files for one in found.differences)
    yield from _fact("record", "changed" if "record" in about else "as written")
    yield from _fact("SHA-256", found.sha256)
    chain = "broken" if "chain" in about else "whole"
    yield from _fact("chain", f"{chain}, {_counted(found.records, 'record')} in the folder")
    unchanged = found.files - changed
    yield from _fact("files", f"{unchanged} of {found.files} unchanged", f"in {found.folder}")
    comparison = found.comparison
    if comparison is None:
        yield from _fact("numbers", "not recomputed")
        return
    yield from _fact("numbers", _numbers(comparison))
    then, now = (one or "none" for one in (comparison.decision_then, comparison.decision_now))
    yield from _fact(
        "decision", f"{then}, then and now" if then == now else f"{then} then, {now} now"
    )


def _fact(label: str, *parts: str) -> Iterator[str]:
    yield from wrapped(", ".join(parts), f"  {label:<{_LABEL}}", WIDTH)


def _counted(number: int, word: str) -> str:
    return f"{number} {word}{'s' if number != 1 else ''}"


def _numbers(comparison: Comparison) -> str:
    if not comparison.unequal:
        return f"all {comparison.numbers} the same to the last bit"
    equal = comparison.numbers - comparison.unequal
    told = f"{equal} of {comparison.numbers} the same to the last bit"
    moves = [abs(one.share) for one in comparison.wafers if one.share is not None]
    if moves and all(one.same for one in comparison.wafers):
        told += (
            f"; the stresses are reproduced within {max(moves):.1g} of U "
            f"(up to {comparison.tolerance:g} is the same: another kind of processor adds up in "
            "another order)"
        )
    return told


def _wafers(comparison: Comparison | None) -> Iterator[str]:
    if comparison is None:
        return
    heads = ("wafer", "then (U at 95 %)", "now", "moved", "share of U")
    yield from columns([heads, *map(_cells, comparison.wafers)], right=(3, 4))


def _cells(one: WaferThenNow) -> tuple[str, str, str, str, str]:
    moved, share = "", ""
    if one.moved is not None and one.now is not None:
        moved = say_value(one.moved, one.now.unit, 2) if one.moved else "0"
        share = "" if one.share is None else f"{abs(one.share):.2g}"
    return one.id, _said(one.then, one.refusal_then), _said(one.now, one.refusal_now), moved, share


def _said(estimate: Estimate | None, refusal: str | None) -> str:
    if refusal is not None:
        return f"refused: {refusal}"
    return "none" if estimate is None else say_estimate(estimate, sign=True)
