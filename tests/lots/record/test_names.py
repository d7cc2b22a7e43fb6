"""File names of records: from any lot name, one plain name inside the folder."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.lots.record.names import number_of, record_name

NAMES = {
    "N24-03": "0007-N24-03.json",
    "../../etc/passwd": "0007-etc-passwd.json",
    "a/b\\c:d*e": "0007-a-b-c-d-e.json",
    "..": "0007-lot.json",
    "": "0007-lot.json",
    "a\0b\nc": "0007-a-b-c.json",
    ".hidden": "0007-hidden.json",
    "Los ½ µm – 窒化膜": "0007-Los-½-µm-窒化膜.json",
    "$(rm -rf ~); `x` | y": "0007-rm-rf-x-y.json",
}


@pytest.mark.parametrize(("lot", "name"), NAMES.items())
def test_names(lot: str, name: str) -> None:
    assert record_name(7, lot) == name


def test_a_long_name_is_cut_between_letters() -> None:
    for letter in "x膜":
        name = record_name(3, letter * 300)
        assert len(os.fsencode(name)) <= 110
        assert number_of(name) == 3


def test_the_number_grows_beyond_its_digits() -> None:
    assert number_of(record_name(123456, "x")) == 123456


@pytest.mark.parametrize("name", ["notes.json", "0001.json", "1-x.json", "٠٠٠١-x.json", ".lock"])
def test_other_files_are_no_records(name: str) -> None:
    assert number_of(name) is None


@given(lot=st.text(), number=st.integers(1, 10**9))
def test_any_name_stays_in_its_folder(lot: str, number: int) -> None:
    name = record_name(number, lot)
    assert Path(name).name == name
    assert number_of(name) == number
    assert name.isprintable()
    assert len(os.fsencode(name)) <= 130
