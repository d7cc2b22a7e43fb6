"""Mutated files: a result, or a refusal in words; nothing else, and not late."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fuzzing.small import hold


@pytest.mark.parametrize(
    ("door", "count"),
    [
        ("inspect", 5),
        ("inspect, second layer", 7),
        ("measure", 3),
        ("measure, third scan", 3),
        ("measure, map", 2),
        ("thickness", 7),
        ("export", 3),
        ("export, second layer", 6),
        ("export, line of a map", 6),
    ],
)
def test_no_mutated_file_is_an_internal_error(door: str, count: int, tmp_path: Path) -> None:
    hold(door, count, tmp_path / "files")
