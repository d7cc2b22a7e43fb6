"""Cells of a wafer table: units of the heads, decimal commas."""

from __future__ import annotations

import pytest

from filmstress.lots.cells import has_decimal_commas, with_decimal_points, with_unit


@pytest.mark.parametrize(
    ("cell", "unit", "text"),
    [
        ("503", "nm", "503 nm"),
        ("-5.5e1", "um", "-5.5e1 um"),
        ("503(3)", "nm", "503(3) nm"),
        ("503 (exact)", "nm", "503 nm (exact)"),
        ("503 ± 3", "nm", "503 nm ± 3 nm"),
        ("503±3 (k=2)", "nm", "503 nm ± 3 nm (k=2)"),
        ("503 +/- 3 (limits)", "nm", "503 nm +/- 3 nm (limits)"),
        ("503 ± 1 %", "nm", "503 nm ± 1 %"),
        ("0.5 um", "nm", "0.5 um"),
        ("0.5 um ± 3", "nm", "0.5 um ± 3 nm"),
        ("-30..30", "mm", "-30 mm..30 mm"),
        ("-3 cm..30", "mm", "-3 cm..30 mm"),
        ("auto", "mm", "auto"),
        ("503", "", "503"),
        ("abc", "nm", "abc"),
    ],
)
def test_bare_numbers_take_the_unit_of_their_head(cell: str, unit: str, text: str) -> None:
    assert with_unit(cell, unit) == text


@pytest.mark.parametrize(
    ("cells", "answer"),
    [
        (["503,2", "12"], True),
        (["0,125"], True),
        (["-30,5..30,5"], True),
        (["503,2 ± 0,1", "1,234"], True),
        (["12345,678"], True),
        (["503,2(12)"], True),
        (["1,234"], False),
        (["12,345", "1,000"], False),
        (["503,2", "1.5"], False),
        (["1.234,5"], False),
        (["1,234,567"], False),
        (["503"], False),
        ([], False),
    ],
)
def test_commas_are_decimal_marks_only_where_nothing_else_is_possible(
    cells: list[str], answer: bool
) -> None:
    assert has_decimal_commas(cells) is answer


def test_only_commas_inside_numbers_become_points() -> None:
    assert with_decimal_points("503,2 ± 3,1 (k=2,26, dof=9)") == "503.2 ± 3.1 (k=2.26, dof=9)"
