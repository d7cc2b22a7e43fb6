"""Where the history stands, and how it is opened: SQLite by default, PostgreSQL where shared."""

from __future__ import annotations

import os
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import DatabaseError, SQLAlchemyError

from filmstress.errors import HistoryError, UsageError
from filmstress.history.schema import STEPS, STEPS_DONE, TABLES, VERSION

VARIABLE = "FILMSTRESS_HISTORY"
_FILE = "history.sqlite"
# How long a writer waits for others [s].
_PATIENCE = 30.0
# Arbitrary, but ours: serialises the schema steps of several processes on PostgreSQL.
_LOCK = 7340231


def default_place() -> str:
    """FILMSTRESS_HISTORY, or a file in the user's data folder."""
    if stated := os.environ.get(VARIABLE):
        return stated
    if sys.platform == "win32":
        folder = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        folder = Path.home() / "Library" / "Application Support"
    else:
        folder = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    return str(folder / "filmstress" / _FILE)


def shown(place: str) -> str:
    """A place as it may be printed: an address without its password."""
    if "://" not in place:
        return place
    try:
        return sa.make_url(place).render_as_string()
    except (SQLAlchemyError, ValueError):
        return "an address that cannot be read"


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """An opened history.

    Attributes
    ----------
    place : str
        File or address, without its password.
    engine : sqlalchemy.Engine
    file : Path or None
        None on a server.
    """

    place: str
    engine: sa.Engine
    file: Path | None

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A connection that sees one state of the history."""
        still: dict[str, Any] = {"writes": False}
        if self.file is None:
            still["isolation_level"] = "REPEATABLE READ"
        with self._told(), self.engine.connect().execution_options(**still) as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """One transaction: all of it is kept, or nothing."""
        with self._told(), self.engine.begin() as connection:
            yield connection

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except SQLAlchemyError as error:
            raise _refusal(error, self.place) from error

    def close(self) -> None:
        """Let go of the file or server."""
        self.engine.dispose()


def open_history(place: str | None = None, *, create: bool = False) -> History:
    """Open a history and bring its schema up to date.

    Parameters
    ----------
    place : str, optional
        Path of a file, or "postgresql://user@host/name"; by default `default_place`.
    create : bool
        Whether to make one where there is none.

    Raises
    ------
    HistoryError
        There is none, it cannot be opened or read, it is no history, or a newer filmstress has
        changed it.
    """
    place = place or default_place()
    history = _on_server(place) if "://" in place else _in_file(Path(place), create=create)
    try:
        _bring_up_to_date(history, create=create)
    except BaseException:
        history.close()
        raise
    return history


def _in_file(path: Path, *, create: bool) -> History:
    where = str(path)
    if path.is_dir():
        raise HistoryError("is a folder; want a file", where=where)
    if not path.exists():
        if not create:
            raise HistoryError(
                "there is no history yet",
                where=where,
                hint="filmstress lot LOT.toml --record makes one; --history or "
                f"{VARIABLE} names another",
            )
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise HistoryError(
                f"its folder cannot be made: {error.strerror}", where=where
            ) from None
    engine = sa.create_engine(
        sa.URL.create("sqlite", database=where),
        connect_args={"timeout": _PATIENCE},
    )

    @sa.event.listens_for(engine, "connect")
    def _plain(connection: sqlite3.Connection, _: object) -> None:
        # The driver's own transactions leave schema changes outside of them.
        connection.isolation_level = None
        connection.execute("PRAGMA foreign_keys = ON")

    @sa.event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        # A writer that began as a reader could not wait for another writer.
        writes = connection.get_execution_options().get("writes", True)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return History(where, engine, path)


def _on_server(place: str) -> History:
    try:
        url = sa.make_url(place)
    except (SQLAlchemyError, ValueError):
        raise UsageError(
            "is no address of a database",
            where=place,
            hint="write 'postgresql://user@host/name', or the path of a file",
        ) from None
    if url.get_backend_name() != "postgresql":
        raise UsageError(
            f"a history does not live in {url.get_backend_name()}",
            where=url.render_as_string(),
            hint="write 'postgresql://user@host/name', or the path of a file",
        )
    try:
        engine = sa.create_engine(
            url.set(drivername="postgresql+psycopg"),
            connect_args={"connect_timeout": 10},
        )
    except ModuleNotFoundError:
        raise HistoryError(
            "the driver for PostgreSQL is not installed",
            where=url.render_as_string(),
            hint="pip install 'filmstress[postgres]'",
        ) from None
    return History(url.render_as_string(), engine, None)


def _bring_up_to_date(history: History, *, create: bool) -> None:
    done = _steps_done(history)
    if done == VERSION:
        return
    if done > VERSION:
        raise HistoryError(
            f"was made by a newer filmstress (schema step {done}; this one knows {VERSION})",
            where=history.place,
            hint="use that version, or a newer one",
        )
    if done == 0 and not create:
        raise HistoryError(
            "holds no history yet",
            where=history.place,
            hint="filmstress lot LOT.toml --record begins one",
        )
    for number in range(done + 1, VERSION + 1):
        with history.writing() as connection:
            if connection.dialect.name == "postgresql":
                connection.execute(sa.text("SELECT pg_advisory_xact_lock(:n)"), {"n": _LOCK})
            _step(connection, number)


def _step(connection: sa.Connection, number: int) -> None:
    """One step, unless another process has done it meanwhile."""
    TABLES.create_all(connection, tables=[STEPS_DONE])
    already = sa.select(STEPS_DONE.c.step).where(STEPS_DONE.c.step == number)
    if connection.execute(already).first() is not None:
        return
    STEPS[number - 1](connection)
    connection.execute(STEPS_DONE.insert().values(step=number, done_at=now()))


def _steps_done(history: History) -> int:
    with history.reading() as connection:
        names = sa.inspect(connection).get_table_names()
        if STEPS_DONE.name not in names:
            if names:
                raise HistoryError(
                    "is a database, but no history of filmstress", where=history.place
                )
            return 0
        return int(connection.execute(sa.select(sa.func.max(STEPS_DONE.c.step))).scalar() or 0)


def now() -> str:
    """Time of now, UTC."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _refusal(error: SQLAlchemyError, place: str) -> HistoryError:
    """What went wrong, in words of somebody who wants to go on."""
    told = str(getattr(error, "orig", None) or error).strip().splitlines()[0]
    hints = {
        "locked": "another program keeps it busy; try again",
        "readonly": "it may not be written to; name another with --history",
        "read-only": "it may not be written to; name another with --history",
        "unable to open": "check the path and its permissions",
        "not a database": "name another file with --history, or a copy of it from before",
        "malformed": "it is damaged; put a copy in its place (filmstress history check tells)",
        "full": "make room on the disk and try again; nothing of this entry was kept",
    }
    hint = next((hint for sign, hint in hints.items() if sign in told.lower()), "")
    what = "cannot be used" if isinstance(error, DatabaseError) else "cannot be reached"
    return HistoryError(f"{what}: {told}", where=place, hint=hint)
