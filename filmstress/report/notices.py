"""Warnings sorted for readers: what to look at, and what was taken as given."""

from __future__ import annotations

from collections.abc import Iterable

from filmstress.records.notice import Notice, WarningCode

# What was taken for granted because it was not stated; every other code is about data or result.
ASSUMED = frozenset(
    {
        WarningCode.DEFAULT_USED,
        WarningCode.EQUIBIAXIAL_ASSUMED,
        WarningCode.NOMINAL_THICKNESS,
        WarningCode.SUPPORT_ASSUMED,
    }
)


def to_look_at(notices: Iterable[Notice]) -> list[Notice]:
    """The warnings about data or result."""
    return [notice for notice in notices if notice.code not in ASSUMED]


def taken_as_given(notices: Iterable[Notice]) -> list[Notice]:
    """The warnings about what was not stated."""
    return [notice for notice in notices if notice.code in ASSUMED]
