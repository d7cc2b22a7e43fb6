"""From settings to a wafer's request: defaults and their notes, states, and every fault at once."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from filmstress.errors import FilmstressError
from filmstress.inputs.request import LineInput, build_wafer, reading_options
from filmstress.records.quantity import Measured, Shape, Source
from filmstress.records.wafer import Face, ScanSpec, Support, WaferSpec
from tests.inputs.stating import BOTH, ENOUGH, faults_of, settings, wafer


def scans(spec: WaferSpec, line: int = 0) -> tuple[ScanSpec, ScanSpec]:
    first, second = (state.scan for state in spec.lines[line].states)
    return first, second


def limits(half_width: float) -> float:
    """Standard uncertainty of a rectangular distribution (JCGM 100:2008, 4.3.7)."""
    return half_width / math.sqrt(3.0)


@pytest.mark.parametrize(
    ("argument", "text", "u", "shape"),
    [
        ("substrate_thickness", "675 um", limits(20e-6), Shape.RECTANGULAR),
        ("film_thickness", "500 nm", limits(25e-9), Shape.RECTANGULAR),
        ("film_modulus", "260 GPa", 13e9, Shape.NORMAL),
        ("film_thickness_profile", "2 %", limits(0.03), Shape.RECTANGULAR),
        ("azimuth", "90 deg", math.radians(1.0), Shape.NORMAL),
    ],
)
def test_default_uncertainties(argument: str, text: str, u: float, shape: Shape) -> None:
    """The table of defaults as it is documented; each use is noted and marked as a default."""
    spec = wafer(**{argument: text})
    found: Measured | None = {
        "substrate_thickness": spec.substrate.thickness,
        "film_thickness": spec.film.thickness,
        "film_modulus": spec.film.modulus,
        "film_thickness_profile": spec.film.thickness_profile,
        "azimuth": spec.lines[0].azimuth,
    }[argument]
    assert found is not None
    assert found.u == pytest.approx(u, rel=1e-12)
    assert found.shape is shape
    assert found.source is Source.DEFAULT
    spoken = argument.replace("_", " ")
    assert [note for note in spec.notes if note.startswith(f"{spoken}: no uncertainty stated")]


@pytest.mark.parametrize("name", ["youngs_modulus", "poisson_ratio"])
@pytest.mark.parametrize("table", ["substrate", "film"])
def test_constants_have_five_percent_by_default(table: str, name: str) -> None:
    stated = {f"{table}_youngs_modulus": "70 GPa", f"{table}_poisson_ratio": 0.2}
    spec = wafer(substrate=None if table == "substrate" else "Si(001)", **stated)
    found = getattr(getattr(spec, table), name)
    assert found.u == pytest.approx(0.05 * found.value)


@pytest.mark.parametrize(
    ("diameter", "half_width"),
    [
        (None, 20e-6),
        ("76.2 mm", 25e-6),
        ("3 inch", 25e-6),
        ("50.8 mm", 25e-6),
        ("100 mm", 20e-6),
        ("150 mm", 20e-6),
    ],
)
def test_small_wafers_have_a_wider_thickness_default(
    diameter: str | None, half_width: float
) -> None:
    spec = wafer(substrate_thickness="381 um", diameter=diameter)
    assert spec.substrate.thickness.u == pytest.approx(limits(half_width))


def test_what_is_stated_stays_as_stated() -> None:
    spec = wafer(
        substrate_thickness="525 um (exact)",
        film_thickness="500 nm ± 4 nm (k=2)",
        azimuth="0 deg ± 0.2 deg",
        film_thickness_profile="0 % ± 1 %",
        bow_repeatability="15 nm",
        offset_repeatability="50 um",
        line_repeatability="0.1 mm",
        position_scale_uncertainty="0.05 %",
        height_scale_uncertainty=0.001,
    )
    assert spec.substrate.thickness.u == 0.0
    assert spec.film.thickness is not None
    assert spec.film.thickness.u == pytest.approx(2e-9)
    first, second = scans(spec)
    assert first == ScanSpec(**{**_fields(second), "path": "pre.csv"})
    assert second.bow_repeatability.u == pytest.approx(15e-9)
    assert second.position_scale == Measured(1.0, "1", 5e-4, read_as="stated")
    assert second.height_scale.u == pytest.approx(1e-3)
    assert spec.notes == ()


def _fields(spec: ScanSpec) -> dict[str, Any]:
    return {name: getattr(spec, name) for name in ScanSpec.__dataclass_fields__}


def test_what_is_not_stated_is_said() -> None:
    spec = wafer()
    _, second = scans(spec)
    for name in ("bow_repeatability", "offset_repeatability", "line_repeatability"):
        assert getattr(second, name).u == 0.0
        assert getattr(second, name).source is Source.DEFAULT
        assert f"{name.replace('_', ' ')}: not stated, taken as 0" in spec.notes
    assert second.position_scale.u == 0.001
    assert second.height_scale.u == 0.005
    assert "position scale: no uncertainty stated, default ± 0.1 %" in spec.notes
    assert "height scale: no uncertainty stated, default ± 0.5 %" in spec.notes
    assert "azimuth: not stated, 0 deg with default ± 1 deg" in spec.notes
    assert second.support is None
    assert second.offset is None
    assert second.window is None


def test_the_profile_of_a_film_is_noted_only_where_it_counts() -> None:
    def noted(**stated: str) -> bool:
        return any("profile" in note for note in wafer(**stated).notes)

    assert noted(film_thickness="1 um ± 1 %")
    assert not noted()
    assert not noted(film_thickness="1 um ± 1 %", film_face="down")
    assert not noted(film_thickness="1 um ± 1 %", film_thickness_profile="0 (exact)")


def test_a_doubt_about_an_uncertainty_becomes_degrees_of_freedom() -> None:
    """JCGM 100:2008, G.4.2: a relative doubt of 25 % is 8 degrees of freedom."""
    spec = wafer(bow_repeatability="16 nm ± 4 nm", height_scale_uncertainty="0.4 % ± 0.1 %")
    _, second = scans(spec)
    assert second.bow_repeatability.u == pytest.approx(16e-9)
    assert second.bow_repeatability.dof == pytest.approx(8.0)
    assert second.height_scale.dof == pytest.approx(8.0)


def test_states_may_differ() -> None:
    spec = wafer(
        support="rim",
        post_support="three-points",
        pre_origin="-40 mm",
        post_origin="-38 mm",
        post_azimuth="180 deg",
        height_up=True,
        pre_height_up="no",
        pre_height_unit="nm",
        instrument="S1",
        post_instrument="S2",
        post_window="-20..20 mm",
    )
    first, second = scans(spec)
    assert (first.support, second.support) == (Support.RIM, Support.THREE_POINTS)
    assert first.origin is not None
    assert second.origin is not None
    assert (first.origin.value, second.origin.value) == (-0.04, -0.038)
    assert (first.height_up, second.height_up) == (False, True)
    assert (first.reading.height_unit, second.reading.height_unit) == ("nm", None)
    assert (first.labels, second.labels) == ((("instrument", "S1"),), (("instrument", "S2"),))
    assert (first.window, second.window) == (None, (-0.02, 0.02))
    assert second.azimuth.value == pytest.approx(math.pi)


def test_a_line_overrides_its_wafer() -> None:
    spec = wafer(
        {"azimuth": "0 deg"},
        {"azimuth": "90 deg", "support": "rim"},
        support="free",
        post_support="three-points",
    )
    assert [scan.support for scan in scans(spec, 0)] == [Support.FREE, Support.THREE_POINTS]
    assert [scan.support for scan in scans(spec, 1)] == [Support.RIM, Support.RIM]
    assert dict(spec.settings)["scans.2.support"] == "rim"
    assert dict(spec.settings)["scan.post_support"] == "three-points"


@pytest.mark.parametrize(
    ("stated", "value", "u"),
    [
        ({"offset": "0.3 mm ± 0.04 mm"}, 0.3e-3, 0.04e-3),
        ({"post_offset": "0.3 mm ± 0.04 mm"}, 0.3e-3, 0.04e-3),
        ({"pre_offset": "0.3 mm ± 0.03 mm"}, -0.3e-3, 0.03e-3),
        ({"offset": "0.5 mm ± 0.04 mm", "pre_offset": "0.3 mm ± 0.03 mm"}, 0.2e-3, 0.05e-3),
    ],
)
def test_an_offset_is_that_of_the_second_scan_on_the_first(
    stated: dict[str, str], value: float, u: float
) -> None:
    first, second = scans(wafer(**stated))
    assert first.offset is None
    assert second.offset is not None
    assert second.offset.value == pytest.approx(value)
    assert second.offset.u == pytest.approx(u)


def test_an_offset_is_found_unless_stated() -> None:
    assert scans(wafer({"offset": "auto"}, offset="0.3 mm ± 0.1 mm"))[1].offset is None
    spec = wafer(offset="0.3 mm")
    assert scans(spec)[1].offset.u == 0.0  # type: ignore[union-attr]
    assert "offset: no uncertainty stated, taken as exact" in spec.notes


def test_a_bare_bow_stands_in_for_the_scan_before() -> None:
    only: dict[str, str | None] = {"pre": None, "post": "post.csv"}
    spec = wafer(paths=only, bare_bow="0 um ± 15 um")
    assert spec.bare_bow is not None
    assert spec.bare_bow.u == pytest.approx(15e-6)
    assert spec.lines[0].states[0].scan.path is None
    (fault,) = faults_of(paths=only)
    assert fault.message == "the scan before deposition is missing"
    assert "bare_bow '0 um ± 15 um'" in fault.hint
    (fault,) = faults_of(paths=only, bare_bow="3 um")
    assert "uncertainty of bare bow is not stated" in fault.message
    assert wafer(paths=only, bare_bow="0 um (exact)").bare_bow is not None


def test_a_bare_bow_beside_a_scan_is_not_used_and_that_is_said() -> None:
    assert any(note.startswith("bare bow: stated but not used") for note in wafer(
        bare_bow="0 um ± 15 um"
    ).notes)  # fmt: skip


def test_what_is_one_for_a_wafer_may_stand_in_its_lines_but_alike() -> None:
    spec = wafer({"reference": "stripped"}, {"reference": "stripped"}, film_faces="both")
    assert spec.reference == "stripped"
    assert spec.film.stripped
    assert spec.film.both_faces
    (fault,) = faults_of({"reference": "stripped"}, {})
    assert fault.message == "the lines of one wafer differ in reference"


def test_words_become_what_they_name() -> None:
    spec = wafer(film_face="down", role="witness", film_material=" silicon nitride ")
    assert spec.film.face is Face.DOWN
    assert spec.role == "witness"
    assert spec.film.material == "silicon nitride"
    assert wafer().role == "product"
    assert wafer().reference == "before"


def test_quantities_may_come_in_si() -> None:
    spec = wafer(film_thickness=Measured(1e-6, "m", 2e-8))
    assert spec.film.thickness == Measured(1e-6, "m", 2e-8)
    assert dict(spec.settings)["film.thickness"] == "1e-06 m ± 2e-08 m"


def test_paths_start_from_the_folder_given() -> None:
    line = LineInput(settings(datum="flat.csv"), BOTH, "scan 1")
    spec = build_wafer("01", settings(**ENOUGH), [line], base=Path("lots/K7"))
    first, second = scans(spec)
    assert first.path == str(Path("lots/K7/pre.csv"))
    assert second.datum == str(Path("lots/K7/flat.csv"))
    absolute = Path("/data/flat.csv").absolute()
    line = LineInput(settings(datum=str(absolute)), BOTH, "scan 1")
    spec = build_wafer("01", settings(**ENOUGH), [line], base=Path("lots/K7"))
    assert scans(spec)[0].datum == str(absolute)
    line = LineInput(settings(datum="from-lot"), BOTH, "scan 1")
    assert scans(build_wafer("01", settings(**ENOUGH), [line], base=Path("x")))[0].datum == (
        "from-lot"
    )
    # Standard input and plain paths on the command line.
    assert scans(wafer(paths={"pre": "-", "post": "b.csv"}))[0].path == "-"


def test_options_of_a_file_alone() -> None:
    options = reading_options(position_unit="mm", interval="0.5 um", decimal=None)
    assert options.position_unit == "mm"
    assert options.interval == pytest.approx(0.5e-6)
    with pytest.raises(FilmstressError, match="--height-unit"):
        reading_options(height_unit="A")
