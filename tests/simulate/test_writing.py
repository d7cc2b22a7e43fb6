"""Files of simulated scans: what stands in them, and that nothing is ever written over."""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import RefusedInput
from filmstress.records.wafer import Face
from filmstress.simulate.pair import simulate_pair, simulate_wafer
from filmstress.simulate.styles import STYLES
from filmstress.simulate.truth import ScanConditions, Truth
from filmstress.simulate.truth_file import read_truths, truth_from, truths_text
from filmstress.simulate.writing import write_pair, write_scan
from tests.simulate.truths import quiet

X = np.array([0.0, 0.1, 0.2, 0.3]) * 1e-3
Z = np.array([1.5e-6, math.nan, -2.00004e-6, -1e-12])


@pytest.mark.parametrize(
    ("style", "text"),
    [
        ("plain", "x [mm],z [um]\n0.0000,1.5000\n0.1000,\n0.2000,-2.0000\n0.3000,0.0000\n"),
        (
            "semicolon",
            "Position (mm);Height (nm)\r\n"
            "0,0000;1500,0\r\n0,1000;\r\n0,2000;-2000,0\r\n0,3000;0,0\r\n",
        ),
        (
            "tab",
            "position\theight\nmm\tum\n"
            "0.0000\t1.5000\n0.1000\tNaN\n0.2000\t-2.0000\n0.3000\t0.0000\n",
        ),
        (
            "headed",
            "# line scan\npoints: 4\nx unit: um\nheight unit: nm\nx z\n"
            "0.0 1500.0\n100.0 NaN\n200.0 -2000.0\n300.0 0.0\n",
        ),
        (
            "interval",
            "sampling interval: 0.1 mm\nheight [um]\n1.5000\nNaN\n-2.0000\n0.0000\n",
        ),
    ],
)
def test_styles(tmp_path, style, text):
    path = tmp_path / "scan.csv"
    write_scan(X, Z, path, style=style)
    assert path.read_bytes().decode("utf-8") == text


def test_every_style_is_tested():
    tested = {case[0] for case in test_styles.pytestmark[0].args[1]}
    assert tested == set(STYLES)


def test_integers_are_taken_as_numbers(tmp_path):
    write_scan([0, 1], [0, 2], tmp_path / "scan.csv")
    assert (tmp_path / "scan.csv").read_text().endswith("0.0000,0.0000\n1000.0000,2000000.0000\n")


def test_scan_is_never_written_over(tmp_path):
    path = tmp_path / "scan.csv"
    path.write_text("mine")
    with pytest.raises(RefusedInput, match=r"scan\.csv: exists already and is not written over"):
        write_scan(X, Z, path)
    assert path.read_text() == "mine"


def test_scan_that_cannot_be_written(tmp_path):
    with pytest.raises(RefusedInput, match="cannot be written"):
        write_scan(X, Z, tmp_path / "no such folder" / "scan.csv")
    with pytest.raises(
        RefusedInput, match=r"'fancy' is no layout of scan files\n.*plain, semicolon"
    ):
        write_scan(X, Z, tmp_path / "scan.csv", style="fancy")
    with pytest.raises(RefusedInput, match=r"shape \(4,\) and heights of shape \(3,\) came"):
        write_scan(X, Z[:3], tmp_path / "scan.csv")
    with pytest.raises(RefusedInput, match="positions are uneven; the style 'interval'"):
        write_scan(X**2, Z, tmp_path / "scan.csv", style="interval")
    assert list(tmp_path.iterdir()) == []


TRUTH = quiet(
    points=101,
    azimuths_rad=(0.0, 0.5 * math.pi, math.radians(22.5)),
    white_noise_m=5e-9,
    post=ScanConditions(dust_count=1, reversed=True),
    seed=3,
)


def test_pair_in_files(tmp_path):
    written = write_pair(TRUTH, tmp_path / "new" / "place", repeats=2)
    assert {path.name for path in written} == {
        f"{state}-{line}{repeat}.csv"
        for state in ("pre", "post")
        for line in ("000", "090", "022.5")
        for repeat in ("", "-2")
    } | {"truth.toml"}
    assert {path.name for path in (tmp_path / "new" / "place").iterdir()} == {
        path.name for path in written
    }
    cells = np.loadtxt(tmp_path / "new" / "place" / "post-022.5-2.csv", delimiter=",", skiprows=1)
    pair = simulate_pair(TRUTH, azimuth_rad=math.radians(22.5), repeat=1)
    np.testing.assert_allclose(cells[:, 0] * 1e-3, pair.post.x, atol=0.5001e-7)
    np.testing.assert_allclose(cells[:, 1] * 1e-6, pair.post.z, atol=0.5001e-10)


def test_truth_beside_the_files_says_what_was_drawn(tmp_path):
    write_pair(TRUTH, tmp_path, seed=11)
    assert read_truths(tmp_path / "truth.toml") == {"01": replace(TRUTH, seed=11)}
    (wafer,) = tomllib.loads((tmp_path / "truth.toml").read_text())["wafer"]
    for line, pair in zip(wafer["line"], simulate_wafer(TRUTH, seed=11), strict=True):
        assert line["azimuth_rad"] == pair.azimuth_rad
        assert line["curvature_change_per_m"] == pytest.approx(pair.curvature_change, rel=1e-8)
        assert line["reversed"] is True


def test_pair_is_refused_whole_where_one_file_exists(tmp_path):
    (tmp_path / "post-090.csv").write_text("mine")
    with pytest.raises(RefusedInput, match=r"post-090\.csv: exists already"):
        write_pair(TRUTH, tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["post-090.csv"]
    with pytest.raises(RefusedInput, match="is no layout"):
        write_pair(TRUTH, tmp_path / "new", style="fancy")
    assert not (tmp_path / "new").exists()
    with pytest.raises(RefusedInput, match="cannot be written"):
        write_pair(TRUTH, tmp_path / "post-090.csv" / "below")


def test_same_seed_same_bytes(tmp_path):
    one = write_pair(TRUTH, tmp_path / "one")
    two = write_pair(TRUTH, tmp_path / "two")
    assert [path.read_bytes() for path in one] == [path.read_bytes() for path in two]


LENGTHS = st.floats(1e-9, 1.0)
CONDITIONS = st.builds(
    ScanConditions,
    lateral_offset_m=st.floats(-1.0, 1.0),
    reversed=st.booleans(),
    dust_count=st.integers(0, 9),
    dust_width_m=LENGTHS,
)
TRUTHS = st.builds(
    Truth,
    substrate=st.text(),
    azimuth_reference=st.none() | st.text(),
    substrate_thickness_m=LENGTHS,
    diameter_m=st.just(1.0),
    stress_x_pa=st.floats(-1e12, 1e12),
    stress_y_pa=st.none() | st.floats(-1e12, 1e12),
    film_thickness_m=LENGTHS,
    face=st.sampled_from(Face),
    azimuths_rad=st.lists(st.floats(-7.0, 7.0), min_size=1, max_size=4).map(tuple),
    scan_length_m=LENGTHS,
    points=st.integers(10, 10**7),
    white_noise_m=st.floats(0.0, 1.0),
    pre=CONDITIONS,
    post=CONDITIONS,
    seed=st.integers(0, 2**62),
)


@given(wafers=st.dictionaries(st.text(), TRUTHS, min_size=1, max_size=3))
def test_truths_come_back_from_their_file(wafers, tmp_path_factory):
    path = tmp_path_factory.mktemp("truth") / "truth.toml"
    path.write_text(truths_text((wafer, truth, ()) for wafer, truth in wafers.items()), "utf-8")
    assert read_truths(path) == wafers


def test_truth_files_that_cannot_be_read(tmp_path):
    path = tmp_path / "truth.toml"
    with pytest.raises(RefusedInput, match="cannot be read as a truth file"):
        read_truths(path)
    for text in ("wafer = [", "[wafer]\nid = 1\n", "[[wafer]]\nid = 'a'\n", "lot = 'x'\n"):
        path.write_text(text)
        with pytest.raises(RefusedInput, match=r"truth\.toml"):
            read_truths(path)


def test_truth_names_the_nearest_key():
    with pytest.raises(RefusedInput, match=r"no 'film_thickness_nm'.*\n.*'film_thickness_m'"):
        truth_from({"film_thickness_nm": 500.0})
    with pytest.raises(RefusedInput, match=r"truth\.post: there is no 'dust'.*\n.*'dust_"):
        truth_from({"post": {"dust": 1}})


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ({"points": 100}, "missing"),
        ({"face": "sideways"}, "sideways"),
        ({"azimuths_rad": 0.0}, "not iterable"),
        ({"pre": 3}, r"truth\.pre: 3 came; want a table"),
    ],
)
def test_truth_that_is_not_whole(table, words):
    with pytest.raises(RefusedInput, match=words):
        truth_from(table)
