"""The files of a lot: which are opened, and which are not."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from filmstress.errors import FilmstressError, LotError
from filmstress.inputs.text_file import toml_of
from filmstress.lots.manifest import read_lot
from tests.lots.writing import MINIMAL, listed


def write(folder: Path, text: str) -> Path:
    path = folder / "lot.toml"
    path.write_text(text, encoding="utf-8")
    return path


def faults_of(folder: Path, text: str) -> list[FilmstressError]:
    with pytest.raises(FilmstressError) as caught:
        read_lot(write(folder, text))
    return listed(caught.value)


def test_files_that_are_no_lot_file(tmp_path: Path) -> None:
    def refused(path: str | Path) -> str:
        with pytest.raises(LotError) as caught:
            read_lot(path)
        assert caught.value.hint
        return caught.value.message

    assert "is a folder" in refused(tmp_path)
    assert "No such file" in refused(tmp_path / "none.toml")
    assert "not a regular file" in refused("/dev/zero")
    assert "not the name of a file" in refused("a\0b")
    assert "cannot be read" in refused(tmp_path / ("x" * 5000))
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    assert "not a regular file" in refused(pipe)
    latin = tmp_path / "latin.toml"
    latin.write_bytes('lot = "µ"'.encode("latin-1"))
    assert "byte 7 is not UTF-8" in refused(latin)
    large = tmp_path / "large.toml"
    with large.open("wb") as file:
        file.truncate(17 * 2**20)
    assert "too large" in refused(large)


@pytest.mark.parametrize("name", ["/dev/zero", "/dev/stdin", "."])
def test_a_wafer_table_that_is_no_file_is_not_read(tmp_path: Path, name: str) -> None:
    (fault,) = faults_of(tmp_path, f'lot = "L"\nwafers = "{name}"')
    assert "not a regular file" in fault.message or "is a folder" in fault.message


def test_reading_a_lot_opens_no_scan_and_writes_nothing(tmp_path: Path) -> None:
    before = write(tmp_path, MINIMAL).stat().st_mtime_ns
    read_lot(tmp_path / "lot.toml")
    assert [path.name for path in tmp_path.iterdir()] == ["lot.toml"]
    assert (tmp_path / "lot.toml").stat().st_mtime_ns == before


def test_symbolic_links_and_marks_of_byte_order_are_fine(tmp_path: Path) -> None:
    real = tmp_path / "real"
    real.mkdir()
    (real / "lot.toml").write_bytes(b"\xef\xbb\xbf" + MINIMAL.encode())
    link = tmp_path / "link.toml"
    link.symlink_to(real / "lot.toml")
    lot = read_lot(link)
    # Paths start from where the lot file is said to be.
    assert lot.wafers[0].lines[0].states[0].scan.path == str(tmp_path / "a.csv")


@pytest.mark.parametrize(
    "text",
    [
        "a." * 60 + "b = 1",
        "x = 1\n[" + " a . " * 60 + "b]\nc = 1",
        '"a".' * 60 + "b = 1",
        "'a'\t.\t" * 60 + "b = 1",
        "a = " + "[" * 3000,
    ],
)
def test_a_text_nested_too_deep_is_refused_at_once(text: str) -> None:
    with pytest.raises(ValueError, match="nested too deep"):
        toml_of(text)


def test_dots_elsewhere_are_no_key() -> None:
    pairs = ", ".join(f'{{ pre = "a/{n}.5.csv", post = "b.{n}.csv" }}' for n in range(200))
    text = f"scans = [{pairs}]  # {'a b.' * 80}\n" + f'why = """{"one. two. " * 80}"""\n'
    assert len(toml_of(text)["scans"]) == 200  # type: ignore[arg-type]
