"""The film by the wafer's own weight, from files drawn from a known truth."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from filmstress.measure.wafer import measure_film
from filmstress.records.result import StressResult
from filmstress.records.weighing import WeightCalibration
from filmstress.report.data import result_data
from filmstress.report.text import to_text
from filmstress.scans.reading.scan_file import read_scan
from filmstress.simulate.truth import Truth
from filmstress.simulate.writing import write_pair, write_scan

TRUTH = Truth(
    substrate="Si(001)",
    azimuth_reference="[110]",
    substrate_thickness_m=675e-6,
    diameter_m=150e-3,
    stress_x_pa=150e6,
    film_thickness_m=200e-9,
    azimuths_rad=(0.0,),
    scan_length_m=120e-3,
    points=601,
    bare_bow_m=5e-6,
    waviness_rms_m=40e-9,
    waviness_length_m=1.5e-3,
    white_noise_m=3e-9,
    weighed_on=("three-points 37.5 mm 30 deg", "three-points 67 mm 30 deg"),
    seed=5,
)
STATED = {
    "substrate": "Si(001)",
    "azimuth_reference": "[110]",
    "substrate_thickness": "675 um ± 20 um (limits)",
    "diameter": "150 mm ± 0.1 mm",
    "film_thickness": "200 nm (exact)",
    "film_thickness_profile": "0 (exact)",
    "support": "three-points",
    "support_azimuth": "30 deg ± 1 deg",
    "weight_first_support_radius": "37.5 mm ± 0.1 mm",
    "weight_second_support_radius": "67 mm ± 0.1 mm",
    "bow_repeatability": "0 nm",
    "gravity": "9.80665 m/s^2 (exact)",
}
FORCE = 150e6 * 200e-9


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("weighed") / "scans"
    write_pair(TRUTH, folder)
    return folder


def measured(folder: Path, **changed: Any) -> StressResult:
    given = {
        "weight_first": str(folder / "weight-first-000.csv"),
        "weight_second": str(folder / "weight-second-000.csv"),
        **STATED,
        **changed,
    }
    return measure_film(folder / "pre-000.csv", folder / "post-000.csv", **given)


def weighed(folder: Path, **changed: Any) -> WeightCalibration:
    found = measured(folder, **changed).weight
    assert found is not None
    return found


def scaled(folder: Path, into: Path, *, heights: float = 1.0, positions: float = 1.0) -> Path:
    into.mkdir()
    for file in folder.glob("*.csv"):
        scan = read_scan(file)
        write_scan(positions * scan.x, heights * scan.z, into / file.name)
    return into


def force(found: WeightCalibration) -> float:
    return found.by_weight.force_per_width.value


def test_the_truth_comes_back_with_a_nominal_thickness(drawn: Path) -> None:
    result = measured(drawn)
    found = result.weight
    assert found is not None
    told = found.by_weight.force_per_width
    assert told.low is not None
    assert told.high is not None
    assert told.low < FORCE < told.high
    assert found.agrees
    assert found.thickness_seen.value == pytest.approx(675e-6, rel=5e-3)
    assert found.combined is not None
    assert result.stress is not None
    # Two good reasons for a nominal thickness to lose against a weighed one.
    assert found.by_weight.stress is not None
    assert found.by_weight.stress.u < 0.4 * result.stress.u
    assert found.combined.stress is not None
    assert found.combined.stress.u <= found.by_weight.stress.u * (1.0 + 1e-9)


@pytest.mark.parametrize(
    ("changed", "rel"),
    [
        ({"substrate_thickness": "600 um ± 2 um"}, 1e-3),
        ({"substrate_thickness": "760 um ± 2 um"}, 1e-3),
        # Another material of almost the same anisotropy and twice the stiffness cannot be stated;
        # an isotropic one of the right Poisson's ratio and any modulus can.
        (
            {
                "substrate": None,
                "azimuth_reference": None,
                "substrate_youngs_modulus": "90 GPa",
                "substrate_poisson_ratio": "0.160 (exact)",
                "substrate_density": "2329 kg/m^3 (exact)",
            },
            0.02,
        ),
    ],
)
def test_thickness_and_modulus_fall_out(drawn: Path, changed: dict[str, Any], rel: float) -> None:
    assert force(weighed(drawn, **changed)) == pytest.approx(force(weighed(drawn)), rel=rel)


def test_the_height_scale_falls_out(drawn: Path, tmp_path: Path) -> None:
    taller = scaled(drawn, tmp_path / "taller", heights=1.03)
    plain, found = measured(drawn), measured(taller)
    assert plain.force_per_width is not None
    assert found.force_per_width is not None
    assert found.weight is not None
    assert plain.weight is not None
    ordinary = found.force_per_width.value / plain.force_per_width.value
    assert ordinary == pytest.approx(1.03, rel=1e-3)
    assert force(found.weight) == pytest.approx(force(plain.weight), rel=1e-3)
    height = {
        row.term.input: abs(row.term.contribution) for row in found.weight.by_weight.budget.rows
    }["height scale"]
    assert height < 0.02 * 0.005 * abs(found.weight.by_weight.stress.value)


def test_the_position_scale_all_but_falls_out(drawn: Path, tmp_path: Path) -> None:
    """What is left is the window; the sensitivity in the budget says how much."""
    wider = scaled(drawn, tmp_path / "wider", positions=1.01)
    base, found = weighed(drawn), weighed(wider)
    slope = next(
        row.term.sensitivity
        for row in base.by_weight.budget.rows
        if row.term.input == "position scale"
    )
    # The budget's scale takes the file's positions to the true ones: it is 1/1.01 here, and so
    # what is found is too large by the slope times the missing 0.01.
    expected = force(base) + 0.01 * slope * force(base) / base.by_weight.stress.value
    assert force(found) == pytest.approx(expected, rel=1e-3)
    assert force(found) == pytest.approx(force(base), rel=5e-3)


# Of the force by weight, with each input made larger by a small step, from dN/N of the equations:
# N goes as rho g R^2 C, C rises with the outer radius and with a smaller inner one.
STEPS = [
    ("gravity", {"gravity": "9.85 m/s^2 (exact)"}, 9.85 - 9.80665),
    ("diameter", {"diameter": "150.3 mm ± 0.1 mm"}, 0.3e-3),
    ("support radius, first", {"weight_first_support_radius": "37.7 mm ± 0.1 mm"}, 0.2e-3),
    ("support radius, second", {"weight_second_support_radius": "67.2 mm ± 0.1 mm"}, 0.2e-3),
    ("support azimuth, second", {"weight_second_support_azimuth": "32 deg ± 1 deg"}, 0.0349066),
    ("place of the bare scans", {"weight_first_origin": "-59 mm ± 1 mm"}, 1e-3),
]


@pytest.mark.parametrize(("name", "changed", "step"), STEPS, ids=[name for name, _, _ in STEPS])
def test_sensitivities_are_those_of_the_whole_chain(
    drawn: Path, name: str, changed: dict[str, str], step: float
) -> None:
    base = {"gravity": "9.80665 m/s^2 ± 0.01 m/s^2"}
    if "azimuth" in name:
        base["support_azimuth"] = "20 deg ± 1 deg"
        changed = {"support_azimuth": "20 deg ± 1 deg", "weight_second_support_azimuth": "22 deg"}
    if "place" in name:
        base |= {"weight_first_origin": "-60 mm ± 1 mm", "support_azimuth": "0 deg ± 1 deg"}
        base["weight_second_origin"] = "-60 mm ± 1 mm"
        changed = base | {"weight_first_origin": "-59 mm ± 1 mm"}
        changed["weight_second_origin"] = "-59 mm ± 1 mm"
    before, after = weighed(drawn, **base), weighed(drawn, **(base | changed))
    slope = {row.term.input: row.term.sensitivity for row in before.by_weight.budget.rows}[name]
    expected = slope * step / before.by_weight.stress.value
    found = force(after) / force(before) - 1.0
    assert found == pytest.approx(expected, rel=0.1, abs=2e-4)
    if name in ("gravity", "diameter", "support radius, second"):
        assert found > 0.0
    if name == "support radius, first":
        assert found < 0.0


def test_density_enters_as_it_is(drawn: Path) -> None:
    isotropic = {
        "substrate": None,
        "azimuth_reference": None,
        "substrate_modulus": "180 GPa ± 1 GPa",
        "substrate_poisson_ratio": "0.16 ± 0.01",
    }
    light, heavy = (
        weighed(drawn, **isotropic, substrate_density=f"{rho} kg/m^3 ± 5 kg/m^3")
        for rho in (2329, 2562)
    )
    assert force(heavy) / force(light) == pytest.approx(2562 / 2329, rel=1e-3)


def test_the_two_scans_may_change_places(drawn: Path) -> None:
    swapped = weighed(
        drawn,
        weight_first=str(drawn / "weight-second-000.csv"),
        weight_second=str(drawn / "weight-first-000.csv"),
        weight_first_support_radius="67 mm ± 0.1 mm",
        weight_second_support_radius="37.5 mm ± 0.1 mm",
    )
    assert force(swapped) == pytest.approx(force(weighed(drawn)), rel=1e-3)
    assert swapped.change_seen.value < 0.0 < weighed(drawn).change_seen.value


def test_a_wrong_thickness_is_called(drawn: Path) -> None:
    result = measured(drawn, substrate_thickness="625 um ± 2 um")
    assert result.weight is not None
    assert not result.weight.agrees
    assert result.weight.combined is None
    (notice,) = [n for n in result.warnings if n.code == "weight-differs"]
    assert "675 um thick, not 625 um" in notice.message
    assert "does not agree" in to_text(result)


def test_exchanged_scans_calibrate_nothing(drawn: Path) -> None:
    first, second = (str(drawn / f"weight-{name}-000.csv") for name in ("second", "first"))
    result = measured(drawn, weight_first=first, weight_second=second)
    assert result.weight is None
    assert result.stress is not None
    (notice,) = [n for n in result.warnings if n.code == "weight-unusable"]
    assert "exchanged" in notice.message


def test_supports_that_bend_alike_calibrate_nothing(drawn: Path) -> None:
    result = measured(drawn, weight_second_support_radius="38.8 mm ± 0.1 mm")
    assert result.weight is None
    (notice,) = [n for n in result.warnings if n.code == "weight-unusable"]
    assert "nearly alike" in notice.message


def test_a_sag_that_stretches_the_wafer_is_refused(tmp_path: Path) -> None:
    """300 mm of a quarter of the usual thickness hangs through by a millimetre."""
    truth = replace(
        TRUTH,
        diameter_m=0.3,
        scan_length_m=0.24,
        substrate_thickness_m=300e-6,
        weighed_on=("three-points 75 mm 30 deg", "rim"),
    )
    write_pair(truth, tmp_path / "thin")
    result = measured(
        tmp_path / "thin",
        diameter="300 mm",
        substrate_thickness="300 um ± 2 um",
        weight_first_support_radius="75 mm ± 0.1 mm",
        weight_second_support="rim",
    )
    assert result.weight is None
    (notice,) = [n for n in result.warnings if n.code == "weight-unusable"]
    assert "not small against the thickness" in notice.message


def test_the_scan_before_deposition_as_the_first_one(tmp_path: Path) -> None:
    """Its noise stands in both changes: alike in sign, so the ratio is known better for it."""
    folder = tmp_path / "scans"
    write_pair(replace(TRUTH, white_noise_m=30e-9), folder)
    # Film and weight both on the first support: the pre scan is drawn without its sag, which
    # the file of the first weighing holds.
    bare = read_scan(folder / "weight-first-000.csv")
    sag = bare.z - read_scan(folder / "pre-000.csv").z
    post = read_scan(folder / "post-000.csv")
    (folder / "post-000.csv").unlink()
    write_scan(post.x, post.z + sag, folder / "post-000.csv")
    points = {k: v for k, v in STATED.items() if "weight_first" not in k}
    given = points | {
        "support_radius": "37.5 mm ± 0.1 mm",
        "weight_second": str(folder / "weight-second-000.csv"),
        "bow_repeatability": "20 nm",
    }
    pre, post_path = folder / "weight-first-000.csv", folder / "post-000.csv"
    shared = measure_film(pre, post_path, **given).weight
    assert shared is not None
    copy = tmp_path / "copy.csv"
    copy.write_bytes(pre.read_bytes())
    apart = measure_film(pre, post_path, **given, weight_first=str(copy)).weight
    assert apart is not None
    assert force(shared) == pytest.approx(force(apart), rel=1e-9)
    names = {row.term.input for row in shared.by_weight.budget.rows}
    assert "bow repeatability of the scan before" in names
    # dN/N = dk_f/k_f - dk_w/k_w with the same -dk of the scan before in both.
    u = 8.0 * 20e-9 / 0.12**2
    film = 6.0 * FORCE / (180.3156e9 * 675e-6**2)
    seen = shared.change_seen.value
    whole = u**2 * (1.0 / film**2 + 1.0 / seen**2 + (1.0 / film - 1.0 / seen) ** 2)
    rows = [
        row.term.contribution
        for row in shared.by_weight.budget.rows
        if "bow repeatability" in row.term.input
    ]
    stress = shared.by_weight.stress
    assert stress is not None
    assert np.hypot.reduce(rows) == pytest.approx(whole**0.5 * stress.value, rel=0.02)


def test_two_azimuths_and_a_film_face_down(tmp_path: Path) -> None:
    truth = replace(
        TRUTH, azimuths_rad=(0.0, np.pi / 2), film_thickness_m=300e-9, stress_x_pa=-100e6
    )
    write_pair(truth, tmp_path / "both")
    folder = tmp_path / "both"
    from filmstress.lots.batch import measure_lot
    from filmstress.lots.manifest import read_lot

    lot = tmp_path / "lot.toml"
    entries = ",\n".join(
        f'{{ azimuth = "{a} deg", pre = "{folder}/pre-{a:03}.csv", '
        f'post = "{folder}/post-{a:03}.csv", weight_first = "both/weight-first-{a:03}.csv", '
        f'weight_second = "both/weight-second-{a:03}.csv" }}'
        for a in (0, 90)
    )
    lot.write_text(
        'lot = "K7"\n[substrate]\nmaterial = "Si(001)"\nazimuth_reference = "[110]"\n'
        'diameter = "150 mm"\nthickness = "675 um"\n[film]\nthickness = "300 nm ± 1 %"\n'
        '[scan]\nsupport = "three-points"\nsupport_azimuth = "30 deg"\n'
        'weight_first_support_radius = "37.5 mm ± 0.1 mm"\n'
        'weight_second_support_radius = "67 mm ± 0.1 mm"\n'
        f'[[wafer]]\nid = "01"\nscans = [{entries}]\n'
        # A wafer that was not weighed, under the same conditions of the lot.
        f'[[wafer]]\nid = "02"\nscans = [{{ pre = "{folder}/pre-000.csv", '
        f'post = "{folder}/post-000.csv" }}]\n',
        encoding="utf-8",
    )
    first, second = measure_lot(read_lot(lot)).wafers
    assert second.result is not None
    assert second.result.weight is None
    assert first.result is not None
    found = first.result.weight
    assert found is not None
    assert found.by_weight.force_per_width.value == pytest.approx(-30.0, rel=0.01)
    assert len(found.lines) == 2
    down = weighed(folder, film_face="down", film_thickness="300 nm (exact)")
    assert force(down) == pytest.approx(30.0, rel=0.01)


def test_what_is_told(drawn: Path) -> None:
    result = measured(drawn)
    text, data = to_text(result), result_data(result, "0")
    assert "By the wafer's own weight" in text
    assert "most of the uncertainty above is from substrate thickness" in text
    told = json.loads(json.dumps(data, allow_nan=False))["weight_calibrated"]
    assert told["stress"]["unit"] == "Pa"
    assert told["force_per_width"]["value"] == pytest.approx(FORCE, rel=0.02)
    assert sum(row["share"] for row in told["budget"]) == pytest.approx(1.0)
    assert {"support radius, first", "support radius, second", "density", "diameter"} <= {
        row["input"] for row in told["budget"]
    }
    assert told["combined"]["weight_share"] > 0.8
    states = [file["state"] for file in data["inputs"]["files"]]
    assert states == ["pre", "post", "weight_first", "weight_second"]
    assert "weight_second" in data["inputs"]["lines"][0]


def test_a_measured_thickness_makes_the_weight_a_check(drawn: Path) -> None:
    text = to_text(
        measured(
            drawn,
            substrate_thickness="675 um ± 0.5 um",
            height_scale_uncertainty="0.1 %",
            weight_first_support_radius="37.5 mm ± 0.5 mm",
        )
    )
    assert "here the weight tells less than what was stated" in text
