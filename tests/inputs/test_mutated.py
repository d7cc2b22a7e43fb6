"""Mutated files: a result, or a refusal in words; nothing else, and not late."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fuzzing.small import hold


@pytest.mark.parametrize(
    ("door", "count"),
    [
        ("gauge", 6),
        ("gauge of scans", 6),
    ],
)
def test_no_mutated_file_is_an_internal_error(door: str, count: int, tmp_path: Path) -> None:
    hold(door, count, tmp_path / "files")
