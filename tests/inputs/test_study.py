"""Studies that cannot be read are refused in words; those that can are read as they stand."""

from __future__ import annotations

from pathlib import Path

import pytest

from filmstress.errors import RefusedInput
from filmstress.inputs.study_table import read_study_table
from filmstress.records.study import Readings

ROWS = "".join(f"{wafer},{turn},{wafer + 0.1 * turn}\n" for wafer in (1, 2) for turn in (1, 2))


def written(folder: Path, text: str | bytes) -> str:
    path = folder / "study.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return str(path)


@pytest.mark.parametrize("head", ["bow [um]", "bow[um]", "bow  [um]", "BOW [ um ]", "bow [µm]"])
def test_a_head_and_its_unit(tmp_path: Path, head: str) -> None:
    study = read_study_table(written(tmp_path, f"wafer,trial,{head}\n{ROWS}"))
    assert isinstance(study, Readings)
    assert (study.what, study.unit) == ("bow", "m")
    assert [row.value for row in study.rows] == pytest.approx([1.1e-6, 1.2e-6, 2.1e-6, 2.2e-6])


@pytest.mark.parametrize(
    "text",
    [
        b"wafer,bow [um]\n1,\xff\n",
        "wafer,bow [um]\n" + "1," + "9" * 140_000,
        "wafer,bow [um]\n1,5\r6\r7",
        "",
        "\n\n",
        "wafer,bow [um\n" + ROWS,
        "wafer,bow um]\n" + ROWS,
        "wafer,trial,bow [um]\n1,1,1e7\n" + ROWS,
    ],
)
def test_what_is_no_study(tmp_path: Path, text: str | bytes) -> None:
    with pytest.raises(RefusedInput) as caught:
        read_study_table(written(tmp_path, text))
    assert len(str(caught.value)) < 1000


def test_a_decimal_comma_is_not_cut_off(tmp_path: Path) -> None:
    with pytest.raises(RefusedInput, match="row 2: has 3 cells where the head has 2") as caught:
        read_study_table(written(tmp_path, "wafer,bow [um]\n1,12,5\n1,12,7\n"))
    assert "';'" in caught.value.hint
    # Blank cells beyond the head hold nothing.
    study = read_study_table(written(tmp_path, "wafer,bow [um]\n1,12.5,,\n1,12.7,\n"))
    assert isinstance(study, Readings)
    assert [row.value for row in study.rows] == pytest.approx([12.5e-6, 12.7e-6])


def test_scans_in_two_columns_are_refused(tmp_path: Path) -> None:
    with pytest.raises(RefusedInput, match="its columns are"):
        read_study_table(written(tmp_path, "wafer,scan,file\n1,a.csv,b.csv\n"))


@pytest.mark.parametrize("path", ["/dev/zero", "a\0b", "."])
def test_what_is_no_file(path: str) -> None:
    with pytest.raises(RefusedInput):
        read_study_table(path)
