"""The wafer table: the same lot as in TOML, units in the heads, and its faults."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import FilmstressError
from filmstress.inputs.keys import WEIGHINGS, arguments
from filmstress.inputs.readers import Quantity, QuantityOrWord, QuantityRange
from filmstress.lots.manifest import read_lot
from filmstress.records.lot import LotSpec
from tests.lots.writing import listed

HEAD = """\
lot = "K7"
wafers = "wafers.csv"
[substrate]
material = "Si(001)"
thickness = "675 um ± 2 um"
"""


def read(folder: Path, table: str | bytes, head: str = HEAD) -> LotSpec:
    (folder / "lot.toml").write_text(head, encoding="utf-8")
    raw = table if isinstance(table, bytes) else table.encode()
    (folder / "wafers.csv").write_bytes(raw)
    return read_lot(folder / "lot.toml")


def faults_of(folder: Path, table: str | bytes, head: str = HEAD) -> list[FilmstressError]:
    with pytest.raises(FilmstressError) as caught:
        read(folder, table, head)
    return listed(caught.value)


TABLE = """\
wafer,azimuth [deg],pre,post,film_thickness [nm],film_thickness_u [nm],post_origin [mm],support
01,0,pre/01-000.csv,post/01-000.csv,503,3,-38.5,rim
01,90,pre/01-090.csv,post/01-090.csv,503,3,,rim
02,0,pre/02-000.csv,post/02-000.csv,498.5,3.5,-40,
"""

SAME = """\
lot = "K7"
[substrate]
material = "Si(001)"
thickness = "675 um ± 2 um"
[[wafer]]
id = "01"
film.thickness = "503 nm ± 3 nm"
scans = [
  { azimuth = "0 deg", pre = "pre/01-000.csv", post = "post/01-000.csv", post_origin = "-38.5 mm",
    support = "rim" },
  { azimuth = "90 deg", pre = "pre/01-090.csv", post = "post/01-090.csv", support = "rim" },
]
[[wafer]]
id = "02"
film.thickness = "498.5 nm ± 3.5 nm"
scans = [
  { azimuth = "0 deg", pre = "pre/02-000.csv", post = "post/02-000.csv", post_origin = "-40 mm" },
]
""".replace("\n    support", " support")


@pytest.fixture
def as_toml(tmp_path: Path) -> LotSpec:
    folder = tmp_path / "toml"
    folder.mkdir()
    (folder / "lot.toml").write_text(SAME, encoding="utf-8")
    return read_lot(folder / "lot.toml")


def same_wafers(folder: Path, lot: LotSpec, other: LotSpec) -> bool:
    """Equal but for the folder that the files lie in."""
    return repr(lot.wafers).replace(str(folder), "") == repr(other.wafers).replace(
        str(folder / "toml"), ""
    )


def test_table_and_toml_say_the_same(tmp_path: Path, as_toml: LotSpec) -> None:
    lot = read(tmp_path, TABLE)
    assert same_wafers(tmp_path, lot, as_toml)
    assert lot.table == (
        str(tmp_path / "wafers.csv"),
        hashlib.sha256(TABLE.encode()).hexdigest(),
    )


def european(table: str) -> str:
    return table.replace(",", ";").replace(".5", ",5")


@pytest.mark.parametrize(
    "raw",
    [
        TABLE.replace("\n", "\r\n").encode(),
        b"\xef\xbb\xbf" + TABLE.encode(),
        TABLE.replace(",", ";").encode(),
        TABLE.replace(",", "\t").encode(),
        b"\xef\xbb\xbf" + european(TABLE).replace("\n", "\r\n").encode(),
        european(TABLE).replace(";", "\t").encode(),
        TABLE.replace("\n", ",,\n").encode(),
        ("\n" + TABLE.replace("\n", "\n\n") + ",,,\n").encode(),
        TABLE.replace(",", " , ").encode(),
        TABLE.replace("wafer,", '"wafer",').replace("\n01,", '\n"01",').encode(),
        TABLE.rstrip("\n").encode(),
    ],
    ids=[
        "crlf", "bom", "semicolons", "tabs", "european", "european with tabs", "blank columns",
        "blank lines", "blanks", "quoted", "no last line end",
    ],
)  # fmt: skip
def test_the_ways_of_spreadsheets(tmp_path: Path, as_toml: LotSpec, raw: bytes) -> None:
    assert same_wafers(tmp_path, read(tmp_path, raw), as_toml)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("film_thickness [nm]", "film.thickness [nm]"),
        ("film_thickness [nm]", "film_thickness[nm]"),
        ("film_thickness [nm]", "film_thickness  [ nm ]"),
        ("film_thickness_u [nm]", "film_thickness_u"),
        ("azimuth [deg]", "azimuth [°]"),
        ("503,3,", "503 nm,3 nm,"),
    ],
)
def test_other_ways_of_writing_the_same(
    tmp_path: Path, as_toml: LotSpec, old: str, new: str
) -> None:
    table = TABLE.replace(old, new)
    assert table != TABLE
    assert same_wafers(tmp_path, read(tmp_path, table), as_toml)


def test_uncertainties_may_be_a_share_or_in_another_unit(tmp_path: Path) -> None:
    table = "wafer,pre,post,film_thickness [um],film_thickness_u [%]\n1,a,b,0.5,2\n"
    film = read(tmp_path, table).wafers[0].film.thickness
    assert film is not None
    assert film.u == pytest.approx(0.01e-6)
    table = "wafer,pre,post,film_thickness [um],film_thickness_u [nm]\n1,a,b,0.5,4\n"
    film = read(tmp_path, table).wafers[0].film.thickness
    assert film is not None
    assert (film.value, film.u) == (pytest.approx(0.5e-6), pytest.approx(4e-9))


def test_a_blank_cell_states_nothing(tmp_path: Path) -> None:
    table = (
        "wafer,pre,post,film_thickness [nm],film_thickness_u [nm],support\n"
        "1,a,b,500,,\n2,a,b,,,rim\n"
    )
    first, second = read(tmp_path, table).wafers
    assert first.film.thickness is not None
    assert first.film.thickness.read_as == "default ± 5 % (limits)"
    assert first.lines[0].states[0].scan.support is None
    assert second.film.thickness is None


def test_every_setting_may_be_a_column(tmp_path: Path) -> None:
    for name, key, _ in arguments():
        reader = key.reader
        if isinstance(reader, Quantity | QuantityOrWord | QuantityRange):
            example = reader.kind.example
        else:
            example = reader.words[0] if hasattr(reader, "words") else reader.example
        if name.endswith("azimuth") and "support" not in name:
            continue
        own = key.table == "substrate"
        head = HEAD if not own else 'lot = "K7"\nwafers = "wafers.csv"\n'
        others = {"substrate": "Si(001)", "substrate_thickness": "675 um"} if own else {}
        if "poisson" in name or "youngs" in name or "density" in name:
            table = key.table
            others |= {f"{table}_youngs_modulus": "70 GPa", f"{table}_poisson_ratio": "0.2"}
            others.pop("substrate", None)
        if name == "substrate_modulus":
            others.pop("substrate", None)
        if name.startswith(WEIGHINGS):
            # Two bare scans go together, on supports whose sag is known.
            others |= {state: f"{state}.csv" for state in WEIGHINGS}
            others |= {"diameter": "150 mm", "weight_second_support_radius": "50 mm"}
            others |= {"weight_first_support": "rim", "weight_second_support": "three-points"}
            if name.endswith("_support"):
                example = "centre"
        others[name] = example
        columns = {"wafer": "1", "pre": "a", "post": "b", **others}
        table = ",".join(columns) + "\n" + ",".join(f'"{cell}"' for cell in columns.values())
        assert read(tmp_path, table, head).wafers, name


@pytest.mark.parametrize(
    ("table", "where", "words", "hint"),
    [
        ("", "", "is empty", "wafer, azimuth [deg], pre, post"),
        ("wafer,pre,post\n", "", "has no rows", "one row a scan"),
        ("pre,post\na,b\n", ", line 1", "no column 'wafer'", "wafer, azimuth [deg]"),
        ("wafer,pre\n1,a\n", ", line 1", "no column 'post'", "wafer, azimuth [deg]"),
        (
            "wafer,pre,post,film_thicknes [nm]\n1,a,b,500\n",
            ", line 1, column 4",
            "unknown column 'film_thicknes'",
            "did you mean 'film_thickness'?",
        ),
        (
            "wafer,pre,post,film_thickness [GPa]\n1,a,b,500\n",
            ", line 1, column 4",
            "GPa",
            "",
        ),
        (
            "wafer,pre,post,film_thickness [A]\n1,a,b,500\n",
            ", line 1, column 4",
            "ampere",
            "",
        ),
        ("wafer,pre,post,role [mm]\n1,a,b,\n", ", column 4", "'role' has no unit", "role"),
        ("wafer,pre [um],post\n1,a,b\n", ", column 2", "'pre' has no unit", "pre"),
        (
            "wafer,pre,post,film_thickness [nm],film_thickness [um]\n1,a,b,1,2\n",
            ", line 1, column 5",
            "a second column states 'film_thickness'",
            "keep one",
        ),
        (
            "wafer,pre,post,film_thickness [nm],film.thickness [nm]\n1,a,b,1,2\n",
            ", line 1, column 5",
            "a second column states 'film.thickness'",
            "keep one",
        ),
        ("wafer,wafer,post\n1,1,b\n", ", column 2", "a second column states 'wafer'", "keep one"),
        (
            "wafer,pre,post,film_thickness_u [nm]\n1,a,b,3\n",
            ", line 1",
            "the column 'film_thickness_u' stands without its values",
            "add the column 'film_thickness'",
        ),
        ("wafer,pre,post,support_u\n1,a,b,3\n", ", column 4", "'support' has no uncertainty", ""),
        ("wafer,pre,post,window_u\n1,a,b,3\n", ", column 4", "'window' has no uncertainty", ""),
        ("wafer,pre,post,x]y\n1,a,b,3\n", ", column 4", "'x]y' is not a column head", "[nm]"),
        ("wafer,pre,post\n1,a,b\n,c,d\n", ", line 3", "no wafer is named", "fill the column"),
        ("wafer,pre,post\n1,a,\n", ", line 2 (wafer 1)", "the scan after", "under post"),
        (
            "wafer,pre,post\n1,,b\n",
            ", line 2 (wafer 1)",
            "the scan before deposition is missing",
            "bare_bow",
        ),
        (
            "wafer,pre,post\n1,a,b,c\n",
            ", line 2",
            "'c' stands in a column without a head",
            "first line",
        ),
        ("wafer,pre,post,\n1,a,b,c\n", ", line 2", "'c' stands in a column without", "quote"),
        (
            "wafer,pre,post,film_thickness [nm]\n1,a,b,500\n1,c,d,501\n",
            ", line 3 (wafer 1), film_thickness",
            "'501 nm' here, but '500 nm' in an earlier row",
            "alike in every row",
        ),
        (
            "wafer,pre,post,film_thickness [nm],film_thickness_u [nm]\n1,a,b,,3\n",
            ", line 2 (wafer 1), film_thickness_u",
            "an uncertainty '3' stands without its value",
            "fill the column 'film_thickness' too",
        ),
        (
            "wafer,pre,post,film_thickness\n1,a,b,500\n",
            ", line 2 (wafer 1), film_thickness",
            "'500' has no unit",
            "",
        ),
        (
            "wafer,pre,post,film_thickness [nm]\n1,a,b,abc\n",
            ", line 2 (wafer 1), film_thickness",
            "does not start with a number",
            "",
        ),
        (
            "wafer,pre,post,film_thickness [nm],film_thickness_u [nm]\n1,a,b,500 ± 3,3\n",
            ", line 2 (wafer 1), film_thickness",
            "more than one ±",
            "",
        ),
        ('wafer,pre,post\n1,"a,b\n', ", line 2", "is no table", "CSV"),
        ('wafer,pre,post\n1,"a"x,b\n', ", line 2", "is no table", "CSV"),
        ("wafer;pre;post;film_thickness [nm]\n1;a;b;1,234\n", "film_thickness", "comma", ""),
        ('wafer,pre,post,film_thickness [nm]\n1,a,b,"503,2"\n', "film_thickness", "comma", ""),
        (
            "wafer;pre;post;film_thickness [nm]\n1;a;b;503,2\n2;a;b;503.2\n",
            "line 2 (wafer 1), film_thickness",
            "comma",
            "",
        ),
        ("wafer,pre,post\n1,a\x1b[2J,b\n", ", line 2 (wafer 1), pre", "cannot be printed", ""),
        ("wafer,pre,post\na\x00b,a,b\n", "", "", ""),
        ("wafer,pre,post\n1,a," + "x" * 200_000, ", line 2", "field larger", "CSV"),
    ],
)  # fmt: skip
def test_faults_of_a_table(tmp_path: Path, table: str, where: str, words: str, hint: str) -> None:
    faults = faults_of(tmp_path, table)
    found = [fault for fault in faults if words in fault.message and where in fault.where]
    assert found, [str(fault) for fault in faults]
    assert found[0].where.startswith(str(tmp_path / "wafers.csv"))
    assert hint in found[0].hint
    assert "\x1b" not in str(found[0])
    assert len(faults) <= 2, [str(fault) for fault in faults]


def test_all_faults_of_a_table_are_told_at_once(tmp_path: Path) -> None:
    table = (
        "wafer,pre,post,film_thickness [nm],suport,diameter [nm]\n"
        "1,a,b,abc,rim,\n1,a,b,,,\n2,a,,1e9,,\n3,a,b,5,,5\n"
    )
    words = [str(fault) for fault in faults_of(tmp_path, table)]
    for expected in ("'suport'", "'abc'", "wafer 2): the scan after", "1e9 nm", "diameter: '5 nm'"):
        assert any(expected in word for word in words), (expected, words)
    assert len(words) == 5


def test_tables_that_are_no_text(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path, "wafer,post\nµ,b".encode("latin-1"))
    assert "is not UTF-8" in fault.message
    (fault,) = faults_of(tmp_path, "wafer,post\n1,b".encode("utf-16"))
    assert "is not UTF-8" in fault.message


@given(value=st.integers(1, 99_999), places=st.integers(1, 5))
def test_a_european_number_is_read_as_it_was_written(
    tmp_path_factory: pytest.TempPathFactory, value: int, places: int
) -> None:
    folder = tmp_path_factory.getbasetemp()
    number = f"{value / 10**places:.{places}f}"
    table = f"wafer;pre;post;film_thickness [um];diameter [mm]\n1;a;b;0,5;{number}\n"
    try:
        lot = read(folder, table.replace(number, number.replace(".", ",")))
    except FilmstressError as error:
        # Too small or too large for a wafer, but read right.
        assert number in str(error) or f"{float(number):g}" in str(error)  # noqa: PT017
        return
    diameter = lot.wafers[0].substrate.diameter
    assert diameter is not None
    assert diameter.value == pytest.approx(float(number) * 1e-3)
