"""The chain of records: each names its number and the SHA-256 of the one before.

What the chain cannot show is the removal of its last records, and a chain that was written anew as
a whole: for that, the SHA-256 of a record has to be kept elsewhere, on the signed report say.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from filmstress.errors import RefusedInput
from filmstress.lots.record.canonical import SEAL, Data
from filmstress.lots.record.folder import numbered
from filmstress.lots.record.reading import Record, holds_its_seal, read_data
from filmstress.records.verification import Difference

_CHAIN = "chain"


def check_chain(record: Record) -> tuple[int, list[Difference]]:
    """Walk the chain that a record stands in, as far as its folder holds it.

    Records behind it count too: one that was changed and given a new SHA-256 is told by the next.

    Parameters
    ----------
    record : Record

    Returns
    -------
    records : int
        How many were looked at.
    differences : list of Difference
        Records that are missing, were changed, or do not follow on one another.
    """
    entries = _entries(record)
    return len(entries), list(_broken(entries, record))


def _entries(record: Record) -> list[tuple[int, Path]]:
    try:
        found = numbered(record.path.parent)
    except OSError:
        found = []
    # Under another name it still stands where its number says.
    if not any(path.name == record.path.name for _, path in found):
        found = sorted([*found, (record.number, record.path)])
    return found


def _broken(entries: list[tuple[int, Path]], record: Record) -> Iterator[Difference]:
    number_before, data_before = 0, None
    for number, path in entries:
        if number == number_before:
            yield Difference(_CHAIN, path.name, "bears the number of another record")
        if number > number_before + 1:
            yield Difference(
                _CHAIN, _named(number_before + 1, number - 1), "missing from the folder"
            )
            data_before = None
        try:
            raw, data = read_data(path)
        except RefusedInput as error:
            yield Difference(_CHAIN, path.name, f"{error.message}")
            number_before, data_before = number, None
            continue
        if path.name != record.path.name and not holds_its_seal(raw, data):
            yield Difference(_CHAIN, path.name, "was changed after it was written")
        if data.get("number") != number:
            yield Difference(_CHAIN, path.name, "has another number in it than in its name")
        yield from _link(number, path, data, data_before)
        number_before, data_before = number, data


def _link(number: int, path: Path, data: Data, before: Data | None) -> Iterator[Difference]:
    previous = data.get("previous")
    if number == 1 and previous is not None:
        yield Difference(_CHAIN, path.name, "is the first, yet names one before it")
    if before is not None and previous != before.get(SEAL):
        yield Difference(
            _CHAIN,
            path.name,
            "does not follow on the record before it, which was replaced, or changed and sealed "
            "again",
            then=str(previous),
            now=str(before.get(SEAL)),
        )


def _named(first: int, last: int) -> str:
    return f"record {first:04}" if first == last else f"records {first:04} to {last:04}"
