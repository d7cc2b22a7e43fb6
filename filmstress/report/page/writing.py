"""A result as one HTML page: to be read on a screen or phone, printed, signed and kept."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from filmstress.records.lot import LotResult, WaferOutcome
from filmstress.report.figures.lot import MOST_ROWS
from filmstress.report.page.choice import to_draw
from filmstress.report.page.facts import (
    decision_of,
    deposition_rows,
    editions,
    lot_figures,
    lot_files,
    lot_rows,
    outlook,
    remarks,
)
from filmstress.report.page.wafers import wafer_part
from filmstress.report.text import true_minus
from filmstress.report.words import printable

# Longer than any sentence of ours; what a user states may be longer and is cut.
_LONGEST = 2000


def lot_page(result: LotResult, version: str, *, record: tuple[str, str] | None = None) -> str:
    """The report of a lot.

    Parameters
    ----------
    result : LotResult
        Its wafers are drawn as far as their scans have points.
    version : str
        Of this program.
    record : (str, str), optional
        Path and SHA-256 of the record from which the lot can be recomputed.

    Returns
    -------
    str
        HTML; the same result gives the same text.  No element, attribute or link comes from data.
    """
    choice = to_draw(result)
    specification = result.lot.specification
    wafers = [
        wafer_part(
            outcome,
            specification,
            key=f"wafer-{place + 1}",
            name=f"wafer {outcome.id}",
            drawn=place in choice.drawn,
            folded=place in choice.folded,
        )
        for place, outcome in enumerate(result.wafers)
    ]
    return _rendered(
        "lot.html",
        result.wafers,
        version,
        lot=result.lot,
        decided=decision_of(result),
        facts=list(lot_rows(result)),
        outlook=outlook(result),
        deposition=deposition_rows(result.lot),
        stated_in=lot_files(result.lot, record),
        figures=lot_figures(result),
        many=len(wafers) > MOST_ROWS,
        remarks=remarks(result),
        choice=choice,
        wafers=wafers,
        judged=any(wafer.probability for wafer in wafers),
    )


def wafer_page(outcome: WaferOutcome, version: str) -> str:
    """The report of one wafer, in the same form."""
    return _rendered(
        "wafer.html",
        [outcome],
        version,
        wafer=wafer_part(outcome, None, key="wafer-1", name="the wafer", drawn=True),
    )


def _rendered(template: str, outcomes: Iterable[WaferOutcome], version: str, **parts: Any) -> str:
    environment = Environment(
        loader=PackageLoader("filmstress.report.page"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_cleaned,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["minus"] = true_minus
    used, sources = editions(outcomes)
    return environment.get_template(template).render(
        version=version, editions=used, sources=sources, **parts
    )


def _cleaned(value: Any) -> Any:
    """What any text passes before it is escaped: no control or direction signs, an end to it."""
    if isinstance(value, str) and not isinstance(value, Markup):
        # An error's hint stands on a line of its own.
        return printable(value.replace("\n  ", "; "), _LONGEST)
    return value
