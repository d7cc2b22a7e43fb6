"""Bare scans on two supports as stated: what is taken, what is refused, and in which words."""

from __future__ import annotations

import pytest

from filmstress.records.quantity import Source
from filmstress.records.wafer import Support
from tests.inputs.stating import faults_of, wafer

WEIGHED = {
    "diameter": "150 mm ± 0.1 mm",
    "weight_first": "a.csv",
    "weight_second": "b.csv",
    "weight_first_support": "three-points",
    "weight_first_support_radius": "37.5 mm ± 0.1 mm",
    "weight_second_support": "rim",
}


def without(*names: str) -> dict[str, str]:
    return {name: text for name, text in WEIGHED.items() if name not in names}


def test_each_bare_scan_has_conditions_of_its_own() -> None:
    spec = wafer(
        **WEIGHED,
        support="three-points",
        support_radius="50 mm",
        weight_second_height_unit="nm",
        weight_first_origin="-38 mm",
        offset="0.3 mm",
        gravity="9.812 m/s^2 ± 0.001 m/s^2",
    )
    first, second = (state.scan for state in spec.lines[0].weight)
    assert (first.path, second.path) == ("a.csv", "b.csv")
    assert (first.support, second.support) == (Support.THREE_POINTS, Support.RIM)
    assert first.support_radius is not None
    assert (first.support_radius.value, first.support_radius.u) == pytest.approx((37.5e-3, 1e-4))
    assert second.reading.height_unit == "nm"
    assert first.reading.height_unit is None
    assert first.origin is not None
    # The general offset is that of the film's own two scans.
    assert second.offset is None
    assert spec.gravity.value == 9.812
    post = spec.lines[0].states[-1].scan
    assert post.support_radius is not None
    assert post.support_radius.value == 0.05


def test_defaults_are_told() -> None:
    stated = {**WEIGHED, "diameter": "150 mm", "weight_first_support_radius": "37.5 mm"}
    spec = wafer(**stated)
    assert spec.gravity.source is Source.DEFAULT
    radius, diameter = spec.lines[0].weight[0].scan.support_radius, spec.substrate.diameter
    assert radius is not None
    assert diameter is not None
    assert radius.u == pytest.approx(0.5e-3 / 3**0.5)
    assert diameter.u == pytest.approx(0.2e-3 / 3**0.5)
    told = " ".join(spec.notes)
    for words in ("support radius", "substrate diameter", "gravity: not stated, 9.80665 m/s^2"):
        assert words in told


def test_the_scan_before_deposition_may_be_the_first_one() -> None:
    stated = {name: text for name, text in WEIGHED.items() if "first" not in name}
    spec = wafer(**stated, pre_support="three-points", pre_support_radius="50 mm")
    first, _ = (state.scan for state in spec.lines[0].weight)
    assert first.path == "pre.csv"
    assert first.support_radius is not None
    assert first.support_radius.value == 0.05


@pytest.mark.parametrize(
    ("stated", "words", "hint"),
    [
        (without("weight_second"), "other support is missing", "weight_second"),
        (
            without("weight_first", "weight_second"),
            "no scan weight_first is named",
            "weight_first = ",
        ),
        (without("weight_second_support"), "weight_second is not stated", "three-points"),
        (WEIGHED | {"weight_second_support": "free"}, "lies 'free' is not known", "rim, centre"),
        (WEIGHED | {"weight_second_support": "clamped"}, "lies 'clamped'", "rim, centre"),
        (WEIGHED | {"weight_first_support": "flat-stage"}, "lies 'flat-stage'", "rim, centre"),
        (WEIGHED | {"weight_first_support": "rim"}, "on the same support", "weight_second_supp"),
        (without("weight_first_support_radius"), "radius of the three points", "50 mm ± 0.2 mm"),
        (
            WEIGHED | {"weight_first_support_radius": "80 mm"},
            "support of weight_first lies outside",
            "diameter meant",
        ),
        (without("diameter"), "diameter is not stated", "150 mm"),
        (WEIGHED | {"weight_first_azimuth": "60 deg"}, "runs at 60 deg", "same line"),
        (WEIGHED | {"gravity": "98 m/s^2"}, "outside the plausible range", "m/s^2"),
    ],
)
def test_what_the_weight_cannot_be_told_from_is_refused(
    stated: dict[str, str], words: str, hint: str
) -> None:
    faults = faults_of(**stated)
    assert [fault for fault in faults if words in fault.message and hint in fault.hint], faults
    assert all(fault.where for fault in faults)


def test_a_substrate_without_density_has_no_weight() -> None:
    stated = {"substrate": None, "substrate_modulus": "88 GPa"}
    assert any("density is not stated" in fault.message for fault in faults_of(**WEIGHED | stated))


def test_two_circles_of_points_are_two_supports() -> None:
    points = {"weight_second_support": "three-points", "weight_second_support_radius": "67 mm"}
    assert len(wafer(**WEIGHED | points).lines[0].weight) == 2
    alike = {**points, "weight_second_support_radius": "37.6 mm"}
    assert any("same support" in fault.message for fault in faults_of(**WEIGHED | alike))
