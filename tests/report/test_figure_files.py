"""Figures as files: formats, the same bytes each time, whole or not at all."""

import os
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from filmstress.errors import RefusedInput, UsageError
from filmstress.report.figures.measurement import draw_measurement
from filmstress.report.figures.saving import figure_format, save_figure
from filmstress.report.words import say_estimate
from tests.report._lines import make_line
from tests.report._results import make_result


def names(directory: Path) -> list[str]:
    return [path.name for path in directory.iterdir()]


SIGNATURES = {"png": b"\x89PNG\r\n\x1a\n", "pdf": b"%PDF-", "svg": b"<?xml"}


@pytest.mark.parametrize("kind", SIGNATURES)
def test_the_ending_names_the_format(tmp_path, kind):
    path = tmp_path / f"measurement.{kind.upper()}"
    save_figure(draw_measurement(make_result()), path)
    assert path.read_bytes().startswith(SIGNATURES[kind])
    assert names(tmp_path) == [path.name]


@pytest.mark.parametrize("kind", SIGNATURES)
def test_the_same_result_gives_the_same_bytes(tmp_path, kind, monkeypatch):
    # The day on which it is drawn must not show either.
    for name, day in (("one", "0"), ("two", "86400000")):
        monkeypatch.setenv("SOURCE_DATE_EPOCH", day)
        save_figure(draw_measurement(make_result()), tmp_path / f"{name}.{kind}")
    monkeypatch.delenv("SOURCE_DATE_EPOCH")
    save_figure(draw_measurement(make_result()), tmp_path / f"three.{kind}")
    one, two, three = ((tmp_path / f"{n}.{kind}").read_bytes() for n in ("one", "two", "three"))
    assert one == two == three


def test_another_process_writes_the_same_bytes(tmp_path):
    script = (
        "import sys\n"
        "from tests.report._results import make_result\n"
        "from filmstress.report.figures.measurement import draw_measurement\n"
        "from filmstress.report.figures.saving import save_figure\n"
        "for path in sys.argv[1:]: save_figure(draw_measurement(make_result()), path)\n"
    )
    written = []
    for seed in ("1", "2"):
        paths = [str(tmp_path / f"{seed}.{kind}") for kind in ("svg", "pdf")]
        subprocess.run(
            [sys.executable, "-c", script, *paths],
            check=True,
            env=os.environ | {"PYTHONHASHSEED": seed, "PYTHONPATH": str(Path.cwd())},
        )
        written.append([Path(path).read_bytes() for path in paths])
    assert written[0] == written[1]


def test_svg_is_well_formed_and_its_words_can_be_searched(tmp_path):
    result = make_result(wafer_id="K7 <&> $03$")
    save_figure(draw_measurement(result), tmp_path / "m.svg")
    root = ElementTree.parse(tmp_path / "m.svg").getroot()
    texts = ["".join(node.itertext()) for node in root.iter("{http://www.w3.org/2000/svg}text")]
    assert any(say_estimate(result.stress, sign=True) in text for text in texts)
    assert any("K7 <&> $03$" in text for text in texts)


def test_long_scans_make_small_files(tmp_path):
    lines = [
        make_line(azimuth_deg=azimuth, seed=seed, points=50_001, noise_m=50e-9)
        for azimuth in (0, 45, 90, 135)
        for seed in range(4)
    ]
    save_figure(draw_measurement(make_result(*lines)), tmp_path / "m.svg")
    assert (tmp_path / "m.svg").stat().st_size < 1_000_000


def test_a_spike_of_one_point_in_a_long_scan_is_still_drawn():
    line = make_line(points=200_001, noise_m=5e-9)
    line.difference.z[123_456] += 2e-6
    figure = draw_measurement(make_result(line))
    (ax,) = [ax for ax in figure.axes if ax.get_label() == "residuals 0 deg"]
    (left,) = [line for line in ax.lines if line.get_label() == "after minus before"]
    assert len(left.get_xdata()) <= 2000
    assert "[um]" in ax.get_ylabel()
    assert np.max(left.get_ydata()) == pytest.approx(2.0, abs=0.03)
    assert ax.get_ylim()[1] > 2.0


@pytest.mark.parametrize("name", ["m.jpg", "m", "m.svg.gz", ".png"])
def test_another_ending_is_refused_before_anything_is_written(tmp_path, name):
    with pytest.raises(UsageError, match=r"\.png, \.svg or \.pdf") as caught:
        save_figure(draw_measurement(make_result()), tmp_path / name)
    assert caught.value.where == str(tmp_path / name)
    assert names(tmp_path) == []


def test_format_can_be_asked_before_measuring():
    assert figure_format("a/b.c/m.PDF") == "pdf"
    with pytest.raises(UsageError, match=r"the ending \.jpeg came"):
        figure_format("m.jpeg")


def test_a_directory_that_is_not_there_is_said_with_the_path(tmp_path):
    path = tmp_path / "nowhere" / "m.png"
    with pytest.raises(RefusedInput, match="cannot be written: No such file") as caught:
        save_figure(draw_measurement(make_result()), path)
    assert caught.value.where == str(path)


def test_what_cannot_be_replaced_stays_and_no_half_file_is_left(tmp_path):
    path = tmp_path / "m.png"
    path.mkdir()
    with pytest.raises(RefusedInput, match="cannot be written"):
        save_figure(draw_measurement(make_result()), path)
    assert names(tmp_path) == ["m.png"]


def test_a_failure_in_the_middle_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "m.svg"
    path.write_text("old")
    figure = draw_measurement(make_result())

    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.replace", full)
    with pytest.raises(RefusedInput, match="No space left on device"):
        save_figure(figure, path)
    assert path.read_text() == "old"
    assert names(tmp_path) == ["m.svg"]
