"""A lot whose scans are maps: measured along several lines, one map for several azimuths."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest

from filmstress.errors import FilmstressError
from filmstress.lots.batch import measure_lot
from filmstress.lots.manifest import read_lot
from filmstress.measure.single import InspectedScan, inspect_file
from filmstress.measure.wafer import measure_film
from filmstress.records.notice import RefusalCode
from filmstress.records.scan import ReadingOptions
from filmstress.report.data import result_data
from filmstress.scans.reading import open_formats
from filmstress.scans.reading.scan_file import holds_map, read_scan
from filmstress.simulate.maps import simulate_maps
from filmstress.simulate.truth import Truth
from tests.measure._maps import write_sdf

TRUTH = Truth(
    substrate_thickness_m=525e-6,
    diameter_m=100e-3,
    stress_x_pa=120e6,
    stress_y_pa=60e6,
    stress_axis_rad=math.radians(30.0),
    film_thickness_m=1e-6,
    scan_length_m=90e-3,
    points=121,
    waviness_rms_m=60e-9,
    waviness_length_m=1.5e-3,
    white_noise_m=3e-9,
)
HEAD = """
lot = "M1"
[substrate]
material = "Si(001)"
thickness = "525 um ± 2 um"
diameter = "100 mm"
[film]
thickness = "1 um ± 2 %"
[scan]
support = "three-points"
"""
WAFER = '\n[[wafer]]\nid = "{id}"\nscans = [{scans}]\n'


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("maps")
    for seed in (1, 2):
        maps = simulate_maps(replace(TRUTH, seed=seed))
        write_sdf(made / f"pre-{seed}.sdf", maps.pre)
        write_sdf(made / f"post-{seed}.sdf", maps.post)
    return made


def pair(number: int, **stated: str) -> str:
    parts = [f'pre = "pre-{number}.sdf"', f'post = "post-{number}.sdf"']
    return "{ " + ", ".join(parts + [f'{key} = "{text}"' for key, text in stated.items()]) + " }"


def lot_of(folder: Path, name: str, **scans: str) -> Path:
    path = folder / f"{name}.toml"
    wafers = "".join(WAFER.format(id=id.strip("_"), scans=text) for id, text in scans.items())
    path.write_text(HEAD + wafers, encoding="utf-8")
    return path


def test_two_files_of_maps_to_principal_stresses(folder: Path) -> None:
    result = measure_film(
        folder / "pre-1.sdf",
        folder / "post-1.sdf",
        substrate="Si(001)",
        substrate_thickness="525 um ± 2 um",
        film_thickness="1 um ± 2 %",
        diameter="100 mm",
        support="three-points",
    )
    assert result.principal is not None
    assert result.principal.high.value == pytest.approx(120e6, rel=0.02)
    assert result.principal.low.value == pytest.approx(60e6, rel=0.02)
    # The axis is no better known than how the map lies on the wafer: ± 1 deg.
    assert result.principal.axis.u is not None
    assert math.radians(1.0) <= result.principal.axis.u < math.radians(1.2)
    data = json.loads(json.dumps(result_data(result, "0")))
    files = data["inputs"]["files"]
    told = [round(math.degrees(one["line_azimuth"]["value"])) for one in files]
    assert told == [0, 0, 45, 45, 90, 90, 135, 135]


def test_a_lot_names_one_map_for_several_azimuths(folder: Path) -> None:
    lines = ", ".join(pair(1, azimuth=f"{degrees} deg") for degrees in (0, 60, 120))
    path = lot_of(folder, "several", _01=lines, _02=pair(2))
    lot = read_lot(path, files=True)
    assert [len(wafer.lines) for wafer in lot.wafers] == [3, 4]
    outcomes = measure_lot(lot).wafers
    assert [one.refusal for one in outcomes] == [None, None]
    for one in outcomes:
        assert one.result is not None
        assert one.result.stress is not None
        assert one.result.stress.value == pytest.approx(90e6, rel=0.02)


def test_one_map_for_two_wafers_or_two_states_is_refused(folder: Path) -> None:
    wafers = {"_01": pair(1), "_02": pair(1, azimuth="30 deg"), "_03": pair(2)}
    with pytest.raises(FilmstressError, match="hold the same bytes"):
        read_lot(lot_of(folder, "mixed", **wafers), files=True)
    outcomes = measure_lot(read_lot(lot_of(folder, "mixed", **wafers))).wafers
    codes = [one.refusal.code if one.refusal else None for one in outcomes]
    assert codes == [RefusalCode.SAME_SCAN, RefusalCode.SAME_SCAN, None]
    same = '{ pre = "pre-1.sdf", post = "pre-1.sdf", post_azimuth = "2 deg" }'
    outcomes = measure_lot(read_lot(lot_of(folder, "states", _01=same))).wafers
    assert outcomes[0].refusal is not None
    assert outcomes[0].refusal.code is RefusalCode.SAME_SCAN


def test_a_map_is_read_once_for_all_its_lines(
    folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    read = []
    real = open_formats.read_open

    def counted(*given: object) -> object:
        read.append(given)
        return real(*given)  # type: ignore[arg-type]

    monkeypatch.setattr("filmstress.scans.reading.scan_file.read_open", counted)
    path = tmp_path / "copy.sdf"
    path.write_bytes((folder / "pre-1.sdf").read_bytes())
    scans = [read_scan(path, ReadingOptions(line_azimuth=a)) for a in (0.0, 0.5, 1.0)]
    assert len(read) == 1
    assert len({scan.x.size for scan in scans}) == 3
    # Other bytes under the same name are another map.
    path.write_bytes((folder / "pre-2.sdf").read_bytes())
    assert read_scan(path, ReadingOptions(line_azimuth=0.0)).z[0] != scans[0].z[0]
    assert len(read) == 2


def test_inspect_shows_the_line_asked_for(folder: Path) -> None:
    path = str(folder / "post-1.sdf")
    assert holds_map(path)
    with pytest.raises(FilmstressError, match="want the line to take from it"):
        read_scan(path)
    shown = [one for one in inspect_file(path, ReadingOptions()) if isinstance(one, InspectedScan)]
    assert [one.scan.source.line_azimuth for one in shown] == [0.0, pytest.approx(math.pi / 2)]
    (one,) = inspect_file(path, ReadingOptions(line_azimuth=1.0))
    assert isinstance(one, InspectedScan)
    assert one.scan.source.notes[-1].startswith("the line at 57.3 deg")
