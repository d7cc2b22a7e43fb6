"""Mutated files: a result, or a refusal in words; nothing else, and not late."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fuzzing.small import hold


@pytest.mark.parametrize(
    ("door", "count"),
    [
        ("lot --check", 40),
        ("lot", 10),
        ("wafer table", 15),
        ("in a lot", 3),
    ],
)
def test_no_mutated_file_is_an_internal_error(door: str, count: int, tmp_path: Path) -> None:
    hold(door, count, tmp_path / "files")
