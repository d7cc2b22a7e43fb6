"""The one door through which anything enters the history.  It only ever appends."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import sqlalchemy as sa

from filmstress.errors import HistoryError
from filmstress.history.schema import LOTS, PARAMETERS, WAFERS
from filmstress.history.store import History
from filmstress.history.terms import as_text
from filmstress.records.history import KeptLot

# Lots of one transaction when many are written.
_AT_ONCE = 500


def keep(history: History, lot: KeptLot, *, supersedes: int | None = None, why: str = "") -> int:
    """Append a lot.

    Parameters
    ----------
    history : History
    lot : KeptLot
        Where its record is in the history already, nothing is written but what it corrects.
    supersedes : int, optional
        Number of the entry that this one corrects; it stays, and counts no more.  ``lot --record``
        keeps a lot before anyone can say that it corrects another, so this may be told later, once.
    why : str
        Reason of the correction; wanted with ``supersedes``.

    Returns
    -------
    int
        The lot's number in the history.

    Raises
    ------
    HistoryError
        It cannot be written, the entry to correct is missing, later, or was corrected before, or
        this one corrects another.
    """
    if supersedes is not None and not why.strip():
        raise HistoryError("a correction wants its reason", hint="state it with --why")
    with history.writing() as connection:
        number = _next_number(connection)
        found = _number_of(connection, [lot.record_sha256])
        if lot.record_sha256 in found:
            number = found[lot.record_sha256]
            if supersedes is not None:
                _tell_superseded(connection, number, supersedes, why)
            return number
        if supersedes is not None:
            _check_superseded(connection, supersedes)
        _write(connection, [lot], number, supersedes=supersedes, why=why)
        return number


def keep_many(history: History, lots: Iterable[KeptLot]) -> int:
    """Append many lots, and say how many were new.

    They are written in blocks, each whole or not at all; run again after an interruption, it goes
    on where it stopped.
    """
    written = 0
    for block in _blocks(lots, _AT_ONCE):
        with history.writing() as connection:
            first = _next_number(connection)
            known = _number_of(connection, [lot.record_sha256 for lot in block])
            new = list(
                {lot.record_sha256: lot for lot in block if lot.record_sha256 not in known}.values()
            )
            _write(connection, new, first)
            written += len(new)
    return written


def _blocks(lots: Iterable[KeptLot], size: int) -> Iterator[list[KeptLot]]:
    block: list[KeptLot] = []
    for lot in lots:
        block.append(lot)
        if len(block) == size:
            yield block
            block = []
    if block:
        yield block


def _number_of(connection: sa.Connection, hashes: Sequence[str]) -> dict[str, int]:
    query = sa.select(LOTS.c.record_sha256, LOTS.c.number).where(LOTS.c.record_sha256.in_(hashes))
    return {row.record_sha256: row.number for row in connection.execute(query)}


def _next_number(connection: sa.Connection) -> int:
    if connection.dialect.name == "postgresql":
        # Numbers have no gaps and follow the order of writing: writers take turns.
        connection.execute(sa.text("LOCK TABLE lots IN EXCLUSIVE MODE"))
    return int(connection.execute(sa.select(sa.func.max(LOTS.c.number))).scalar() or 0) + 1


def _tell_superseded(connection: sa.Connection, number: int, supersedes: int, why: str) -> None:
    """Let an entry that stands there already count in place of an earlier one."""
    query = sa.select(LOTS.c.supersedes).where(LOTS.c.number == number)
    before = connection.execute(query).scalar()
    if before == supersedes:
        return
    if before is not None:
        raise HistoryError(
            f"the record is entry {number}, which corrects entry {before} already",
            hint="measure the lot again with --record, and name that record",
        )
    if number <= supersedes:
        told = (
            "is that very entry" if number == supersedes else f"is entry {number}, an earlier one"
        )
        raise HistoryError(
            f"the record that is to count in place of entry {supersedes} {told}",
            hint=f"name a record that was made after entry {supersedes}",
        )
    _check_superseded(connection, supersedes)
    connection.execute(
        sa.update(LOTS).where(LOTS.c.number == number).values(supersedes=supersedes, why=why)
    )


def _check_superseded(connection: sa.Connection, number: int) -> None:
    if connection.execute(sa.select(LOTS.c.number).where(LOTS.c.number == number)).first() is None:
        raise HistoryError(f"there is no entry {number} to correct", hint="filmstress history lots")
    later = connection.execute(sa.select(LOTS.c.number).where(LOTS.c.supersedes == number)).scalar()
    if later is not None:
        raise HistoryError(
            f"entry {number} was corrected before, by entry {later}", hint=f"correct {later}"
        )


def _write(
    connection: sa.Connection,
    lots: Sequence[KeptLot],
    first: int,
    *,
    supersedes: int | None = None,
    why: str = "",
) -> None:
    if not lots:
        return
    rows, wafers, parameters = [], [], []
    for number, lot in enumerate(lots, start=first):
        rows.append(
            {
                "number": number,
                "record_sha256": lot.record_sha256,
                "lot": lot.lot,
                "recipe": lot.recipe,
                "at": lot.at,
                "recorded_at": lot.recorded_at,
                "made_on": lot.made_on,
                "tool": lot.tool,
                "decision": lot.decision,
                "reason": lot.reason,
                "lower": lot.lower,
                "upper": lot.upper,
                "supersedes": supersedes,
                "why": why,
                "document": lot.document,
            }
        )
        wafers += [
            {
                "lot_number": number,
                "place": place,
                "wafer": one.wafer,
                "role": one.role,
                "stress": one.stress,
                "stress_u": one.stress_u,
                "stress_dof": one.stress_dof,
                "force": one.force,
                "force_u": one.force_u,
                "film_thickness": one.film_thickness,
                "conformance": one.conformance,
                "refusal": one.refusal,
                "terms": as_text(one.terms),
            }
            for place, one in enumerate(lot.wafers)
        ]
        parameters += [
            {
                "lot_number": number,
                **{key: getattr(one, key) for key in ("name", "text", "value", "unit")},
            }
            for one in lot.parameters
        ]
    connection.execute(LOTS.insert(), rows)
    for table, these in ((WAFERS, wafers), (PARAMETERS, parameters)):
        if these:
            connection.execute(table.insert(), these)
