"""The tables, and the numbered steps that made them.

Every step is run once, in one transaction with the row that says so.  A step that has been released
is never changed: what is to be different becomes a new step.
"""

from __future__ import annotations

from collections.abc import Callable

from sqlalchemy import (
    Column,
    Connection,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
)

TABLES = MetaData()

STEPS_DONE = Table(
    "filmstress_steps",
    TABLES,
    Column("step", Integer, primary_key=True),
    Column("done_at", String, nullable=False),
)

LOTS = Table(
    "lots",
    TABLES,
    Column("number", Integer, primary_key=True),
    Column("record_sha256", String(64), nullable=False, unique=True),
    Column("lot", String, nullable=False),
    Column("recipe", String, nullable=False),
    Column("at", String, nullable=False),
    Column("recorded_at", String, nullable=False),
    Column("made_on", String, nullable=False),
    Column("tool", String, nullable=False),
    Column("decision", String),
    Column("reason", Text, nullable=False),
    Column("lower", Float(53)),
    Column("upper", Float(53)),
    Column("supersedes", Integer, ForeignKey("lots.number"), unique=True),
    Column("why", Text, nullable=False),
    Column("document", Text, nullable=False),
    Index("lots_by_recipe", "recipe", "at"),
)

WAFERS = Table(
    "wafers",
    TABLES,
    Column("lot_number", Integer, ForeignKey("lots.number"), primary_key=True),
    Column("place", Integer, primary_key=True),
    Column("wafer", String, nullable=False),
    Column("role", String, nullable=False),
    Column("stress", Float(53)),
    Column("stress_u", Float(53)),
    Column("stress_dof", Float(53)),
    Column("force", Float(53)),
    Column("force_u", Float(53)),
    Column("film_thickness", Float(53)),
    Column("conformance", Float(53)),
    Column("refusal", String, nullable=False),
    Column("terms", Text, nullable=False),
)

PARAMETERS = Table(
    "parameters",
    TABLES,
    Column("lot_number", Integer, ForeignKey("lots.number"), primary_key=True),
    Column("name", String, primary_key=True),
    Column("text", Text, nullable=False),
    Column("value", Float(53)),
    Column("unit", String, nullable=False),
)


def _first(connection: Connection) -> None:
    """Lots, their wafers and process parameters."""
    TABLES.create_all(connection, tables=[LOTS, WAFERS, PARAMETERS], checkfirst=False)


STEPS: tuple[Callable[[Connection], None], ...] = (_first,)
"""Step n is STEPS[n - 1]."""

VERSION = len(STEPS)
