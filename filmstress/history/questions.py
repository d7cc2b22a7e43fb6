"""What may be asked of the history."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from filmstress.errors import HistoryError
from filmstress.history.schema import LOTS, PARAMETERS, WAFERS
from filmstress.history.store import History
from filmstress.history.terms import from_text
from filmstress.records.history import Found, FoundLot, KeptLot, KeptParameter, KeptWafer

_LATER = LOTS.alias("later")
_SUPERSEDED = sa.exists().where(_LATER.c.supersedes == LOTS.c.number)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """Which entries are wanted; what is empty does not restrict.

    Attributes
    ----------
    recipe, lot, wafer, tool : str
        Exact names.
    since, until : str
        First and last day or time (ISO 8601, "2026-03-14"); the last day is included.
    superseded : bool
        Whether corrected entries are wanted too.
    last : int or None
        Only so many of the latest.
    """

    recipe: str = ""
    lot: str = ""
    wafer: str = ""
    tool: str = ""
    since: str = ""
    until: str = ""
    superseded: bool = False
    last: int | None = None


def _restricted(query: Any, choice: Choice) -> Any:
    for column, wanted in (
        (LOTS.c.recipe, choice.recipe),
        (LOTS.c.lot, choice.lot),
        (LOTS.c.tool, choice.tool),
    ):
        if wanted:
            query = query.where(column == wanted)
    if choice.since:
        query = query.where(LOTS.c.at >= choice.since)
    if choice.until:
        # "2026-03-14T..." sorts behind "2026-03-14": the whole day belongs.
        query = query.where(LOTS.c.at < choice.until + "~")
    if not choice.superseded:
        query = query.where(~_SUPERSEDED)
    return query


def wafers(history: History, choice: Choice, *, with_terms: bool = False) -> list[Found]:
    """Wafers in the order of time, each with its lot.

    Parameters
    ----------
    history : History
    choice : Choice
    with_terms : bool
        Whether the budgets are wanted too, as comparisons want them.
    """
    columns = [column for column in WAFERS.c if with_terms or column.name != "terms"]
    query: Any = sa.select(
        *columns,
        LOTS.c.lot,
        LOTS.c.recipe,
        LOTS.c.at,
        LOTS.c.tool,
        LOTS.c.lower,
        LOTS.c.upper,
        _SUPERSEDED.label("superseded"),
    ).join_from(LOTS, WAFERS, WAFERS.c.lot_number == LOTS.c.number)
    query = _restricted(query, choice)
    if choice.wafer:
        query = query.where(WAFERS.c.wafer == choice.wafer)
    order = (LOTS.c.at.desc(), LOTS.c.number.desc(), WAFERS.c.place.desc())
    query = query.order_by(*order)
    if choice.last is not None:
        query = query.limit(choice.last)
    with history.reading() as connection:
        rows = connection.execute(query).all()
    return [_found(row, with_terms=with_terms) for row in reversed(rows)]


def _found(row: Any, *, with_terms: bool) -> Found:
    # Taken apart by place, in the order of the query: looked up by name, it would cost more.
    (
        number,
        _,
        wafer,
        role,
        stress,
        stress_u,
        stress_dof,
        force,
        force_u,
        film,
        conforms,
        refusal,
    ) = row[:12]
    lot, recipe, at, tool, lower, upper, superseded = row[-7:]
    kept = KeptWafer(
        wafer,
        role,
        stress,
        stress_u,
        stress_dof,
        force,
        force_u,
        film,
        conforms,
        refusal,
        from_text(row[12]) if with_terms else (),
    )
    return Found(number, kept, lot, recipe, at, tool, lower, upper, bool(superseded))


def lots(history: History, choice: Choice) -> list[FoundLot]:
    """Lots in the order of time, with their parameters and without their wafers."""
    count = (
        sa.select(sa.func.count())
        .where(WAFERS.c.lot_number == LOTS.c.number)
        .scalar_subquery()
        .label("wafers")
    )
    later = (
        sa.select(_LATER.c.number)
        .where(_LATER.c.supersedes == LOTS.c.number)
        .scalar_subquery()
        .label("superseded_by")
    )
    columns = [column for column in LOTS.c if column.name != "document"]
    query = _restricted(sa.select(*columns, count, later), choice)
    query = query.order_by(LOTS.c.at.desc(), LOTS.c.number.desc())
    if choice.last is not None:
        query = query.limit(choice.last)
    with history.reading() as connection:
        rows = list(reversed(connection.execute(query).all()))
        numbers = [row.number for row in rows]
        stated: dict[int, list[KeptParameter]] = {number: [] for number in numbers}
        for start in range(0, len(numbers), 500):
            some = (
                sa.select(PARAMETERS)
                .where(PARAMETERS.c.lot_number.in_(numbers[start : start + 500]))
                .order_by(PARAMETERS.c.name)
            )
            for one in connection.execute(some):
                told = KeptParameter(one.name, one.text, one.value, one.unit)
                stated[one.lot_number].append(told)
    return [_found_lot(row, tuple(stated[row.number])) for row in rows]


def _found_lot(row: Any, parameters: tuple[KeptParameter, ...]) -> FoundLot:
    lot = KeptLot(
        record_sha256=row.record_sha256,
        lot=row.lot,
        recipe=row.recipe,
        recorded_at=row.recorded_at,
        made_on=row.made_on,
        tool=row.tool,
        decision=row.decision,
        reason=row.reason,
        lower=row.lower,
        upper=row.upper,
        parameters=parameters,
        document="",
    )
    return FoundLot(
        row.number,
        lot,
        row.wafers,
        supersedes=row.supersedes,
        superseded_by=row.superseded_by,
        why=row.why,
    )


def document(history: History, number: int) -> str:
    """The whole result of one entry, as JSON text.

    Raises
    ------
    HistoryError
        There is no such entry.
    """
    with history.reading() as connection:
        text = connection.execute(
            sa.select(LOTS.c.document).where(LOTS.c.number == number)
        ).scalar()
    if text is None:
        raise HistoryError(
            f"there is no entry {number}", where=history.place, hint="filmstress history lots"
        )
    return str(text)


def recipes(history: History) -> list[tuple[str, int, str, str]]:
    """Every recipe: name, lots, first and last time."""
    query = (
        sa.select(LOTS.c.recipe, sa.func.count(), sa.func.min(LOTS.c.at), sa.func.max(LOTS.c.at))
        .where(~_SUPERSEDED)
        .group_by(LOTS.c.recipe)
        .order_by(LOTS.c.recipe)
    )
    with history.reading() as connection:
        return [(row[0], int(row[1]), row[2], row[3]) for row in connection.execute(query)]
