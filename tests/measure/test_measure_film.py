"""A pair of files to a stress: value, budget, signs, refusals."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from GTC import ureal  # type: ignore[import-untyped]

from filmstress.errors import Faults, RefusedInput, SubstrateError, UsageError
from filmstress.measure.wafer import measure_film
from filmstress.physics.gravity import sag_scale, unit_heights
from filmstress.records.notice import RefusalCode, WarningCode
from filmstress.records.result import StressResult
from tests.measure._pairs import write_pair

STATED = {
    "substrate": "Si(001)",
    "substrate_thickness": "525 um ± 2 um",
    "film_thickness": "1.00 um ± 2 %",
    "film_thickness_profile": "0 % (exact)",
    "support": "three-points",
}
# Brantley, J. Appl. Phys. 44 (1973) 534, with the constants of Mason 1958: 180.3 GPa, as printed
# by Janssen et al., Thin Solid Films 517 (2009) 1858 (from memory).
M_SI_001 = 180.3156e9
CHANGE = 0.0120725592  # 100 MPa in 1 um on 525 um: S = M h_s^2 kappa / (6 h_f)


def codes(result: StressResult) -> set[str]:
    return {notice.code.value for notice in result.warnings}


@pytest.fixture
def pair(tmp_path: Path) -> tuple[str, str]:
    return write_pair(tmp_path, change_per_m=CHANGE)


def test_stress_is_stoneys_with_the_modulus_of_the_cut(pair: tuple[str, str]) -> None:
    result = measure_film(*pair, **STATED)
    assert result.stress is not None
    assert result.stress_stoney is not None
    kappa = result.curvature_change.value
    want = M_SI_001 * 525e-6**2 * kappa / (6 * 1e-6)
    assert result.stress_stoney.value == pytest.approx(want, rel=1e-6)
    # The relaxed mean is Stoney's over 1 + h_f/h_s, to third order in that ratio.
    assert result.stress.value == pytest.approx(want / (1 + 1 / 525), rel=1e-6)
    assert kappa == pytest.approx(CHANGE, rel=1e-3)
    assert result.sense == "tensile"
    assert result.force_per_width is not None
    assert result.force_per_width.value == pytest.approx(result.stress.value * 1e-6, rel=1e-12)
    assert result.radius is not None
    assert result.radius.value == pytest.approx(1 / kappa, rel=1e-12)


def test_budget_is_that_of_gtc(pair: tuple[str, str]) -> None:
    result = measure_film(*pair, **STATED)
    assert result.stress is not None
    line = result.lines[0]
    kappa_terms = math.sqrt(sum(t.contribution**2 for t in line.terms))
    table = next(r.term for r in result.budget.rows if r.term.input == "substrate modulus")
    change = ureal(result.curvature_change.value, kappa_terms)
    modulus = ureal(table.value, table.u)
    h_s, h_f = ureal(525e-6, 2e-6), ureal(1e-6, 0.02e-6)
    s_x, s_z = ureal(1.0, 0.001), ureal(1.0, 0.005)
    want = modulus * h_s**2 * change * s_z / s_x**2 / (6 * h_f) / (1 + h_f / h_s)
    assert result.stress.value == pytest.approx(want.x, rel=1e-6)
    # What GTC does not know of here is the film's modulus at third order, and the bound on the
    # bending of a wafer whose diameter is not stated.
    rest = next(r.term.contribution for r in result.budget.rows if "deflection" in r.term.input)
    assert result.stress.u == pytest.approx(math.hypot(want.u, rest), rel=1e-4)
    assert sum(row.share for row in result.budget.rows) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("name", "row", "low", "high", "step"),
    [
        ("substrate_thickness", "substrate thickness", "524 um (exact)", "526 um (exact)", 2e-6),
        ("film_thickness", "film thickness", "0.99 um (exact)", "1.01 um (exact)", 0.02e-6),
        ("film_thickness_profile", "film thickness profile", "-5 % (exact)", "5 % (exact)", 0.1),
    ],
)
def test_sensitivities_are_derivatives(
    pair: tuple[str, str], name: str, row: str, low: str, high: str, step: float
) -> None:
    stated = {**STATED, "film_thickness_profile": "0 % ± 1 %"}
    result = measure_film(*pair, **stated)
    ends = [measure_film(*pair, **{**stated, name: text}).stress for text in (low, high)]
    assert ends[0] is not None
    assert ends[1] is not None
    slope = (ends[1].value - ends[0].value) / step
    term = next(r.term for r in result.budget.rows if r.term.input == row)
    assert term.sensitivity == pytest.approx(slope, rel=2e-3)


def test_a_film_on_the_other_face_reads_with_the_other_sign(pair: tuple[str, str]) -> None:
    up, down = measure_film(*pair, **STATED), measure_film(*pair, **STATED, film_face="down")
    assert up.stress is not None
    assert down.stress is not None
    assert down.stress.value == pytest.approx(-up.stress.value, rel=1e-12)
    assert down.sense == "compressive"


def test_a_dome_is_compressive_and_heights_into_the_face_flip_it(tmp_path: Path) -> None:
    pair = write_pair(tmp_path, change_per_m=-CHANGE)
    assert measure_film(*pair, **STATED).sense == "compressive"
    assert measure_film(*pair, **STATED, height_up="no").sense == "tensile"


def test_no_film_is_not_distinguishable_from_zero(tmp_path: Path) -> None:
    result = measure_film(*write_pair(tmp_path, change_per_m=0.0), **STATED)
    assert result.sense == "not distinguishable from zero"
    assert result.radius is None


@pytest.mark.parametrize("backwards", [False, True])
def test_offset_and_direction_of_the_second_scan_are_found(tmp_path: Path, backwards: bool) -> None:
    def warped(x: np.ndarray) -> np.ndarray:
        return 0.5 * 0.01 * x**2 + 8e-6 * (x / 0.04) ** 3

    pair = write_pair(
        tmp_path, change_per_m=CHANGE, offset_m=0.437e-3, backwards=backwards, bare=warped
    )
    result = measure_film(*pair, **STATED)
    found = result.lines[0].registration
    assert found is not None
    assert found.reversed is backwards
    assert found.offset_m == pytest.approx(0.437e-3, abs=4 * max(found.u_offset_m, 1e-6))
    assert found.u_offset_m < 40e-6
    assert result.curvature_change.value == pytest.approx(CHANGE, rel=3e-3)
    assert "low-match" not in codes(result)


def test_scans_of_two_wafers_are_warned_about(tmp_path: Path) -> None:
    pair = write_pair(tmp_path, change_per_m=CHANGE, post_seed=2)
    result = measure_film(*pair, **STATED)
    assert "low-match" in codes(result)
    term = next(r.term for r in result.budget.rows if r.term.input == "registration offset")
    assert term.u == pytest.approx(5e-3 / math.sqrt(3.0))


def test_without_film_thickness_there_is_force_per_width_only(pair: tuple[str, str]) -> None:
    stated = {k: v for k, v in STATED.items() if not k.startswith("film")}
    result = measure_film(*pair, **stated)
    assert result.stress is None
    assert result.refusal is None
    assert result.force_per_width is not None
    assert result.force_per_width.value == pytest.approx(100.0, rel=2e-3)


def test_a_stated_bare_bow_stands_in_for_the_first_scan(tmp_path: Path) -> None:
    _, post = write_pair(tmp_path, change_per_m=CHANGE, bare=lambda x: 0.0 * x)
    result = measure_film(None, post, **STATED, bare_bow="0 um ± 1 um")
    assert result.curvature_change.value == pytest.approx(CHANGE, rel=0.02)
    term = next(r.term for r in result.budget.rows if r.term.input == "bare bow")
    # kappa = 8 b / L^2
    assert term.contribution == pytest.approx(
        8e-6 / 0.08**2 * M_SI_001 * 525e-6**2 / 6e-6 / (1 + 1 / 525), rel=1e-3
    )
    with pytest.raises(RefusedInput, match="the scan before deposition is missing"):
        measure_film(None, post, **STATED)


def test_a_film_modulus_gives_the_mismatch_stress(pair: tuple[str, str]) -> None:
    result = measure_film(*pair, **STATED, film_modulus="360 GPa ± 20 GPa")
    assert result.stress is not None
    assert result.stress_mismatch is not None
    # First order: sigma_m / Stoney = 1 + (4 m - 1) h (Freund, Floro & Chason, Appl. Phys. Lett.
    # 74 (1999) 1987, doi:10.1063/1.123722).
    m, h = 360e9 / M_SI_001, 1 / 525
    assert result.stress_stoney is not None
    ratio = result.stress_mismatch.value / result.stress_stoney.value
    assert ratio == pytest.approx(1 + (4 * m - 1) * h, abs=3e-4)
    other = measure_film(*pair, **STATED, film_youngs_modulus="270 GPa", film_poisson_ratio="0.25")
    assert other.stress_mismatch is not None
    assert other.stress_mismatch.value == pytest.approx(result.stress_mismatch.value, rel=1e-9)


def test_a_clamped_wafer_and_a_film_on_both_faces_are_refused(pair: tuple[str, str]) -> None:
    clamped = measure_film(*pair, **{**STATED, "support": "clamped"})
    assert clamped.stress is None
    assert clamped.refusal is not None
    assert clamped.refusal.code is RefusalCode.CLAMPED
    assert "presses out the bow" in clamped.refusal.message
    assert clamped.curvature_change.value == pytest.approx(CHANGE, rel=1e-3)
    both = measure_film(*pair, **STATED, film_faces="both")
    assert both.refusal is not None
    assert both.refusal.code is RefusalCode.BOTH_FACES
    stripped = measure_film(*pair, **STATED, film_faces="both", reference="stripped")
    assert stripped.refusal is None


def test_a_110_wafer_must_say_which_way_it_was_scanned(pair: tuple[str, str]) -> None:
    stated = {**STATED, "substrate": "Si(110)"}
    with pytest.raises(SubstrateError, match="bends differently with azimuth"):
        measure_film(*pair, **stated)
    along = measure_film(*pair, **stated, azimuth_reference="[001]")
    across = measure_film(*pair, **stated, azimuth_reference="[001]", azimuth="90 deg")
    assert along.stress is not None
    assert across.stress is not None
    # The [001] direction of a (110) wafer answers with 180.3156 GPa, [1-10] with 264.905 GPa.
    assert across.stress.value / along.stress.value == pytest.approx(264.905 / 180.3156, rel=1e-4)
    names = {row.term.input for row in across.budget.rows}
    assert "cut and azimuth" in {
        row.term.input
        for row in measure_film(
            *pair, **stated, azimuth_reference="[001]", azimuth="45 deg"
        ).budget.rows
    }
    assert "substrate modulus" in names


def test_weight_on_two_supports_is_taken_out_again(tmp_path: Path) -> None:
    # Fused silica, E 72.7 GPa, nu 0.165, 2203 kg/m^3: M = 87.0659 GPa. Sag as in the closed forms
    # for rim and centre support (Timoshenko & Woinowsky-Krieger 1959).
    radius, h_s, nu = 0.05, 525e-6, 0.165
    q = 72.7e9 / (1 - nu**2) * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]])
    size = sag_scale(density_kg_per_m3=2203.0, thickness_m=h_s, wafer_radius_m=radius, reduced_pa=q)

    def on_rim(x: np.ndarray) -> np.ndarray:
        return size * unit_heights("rim", x / radius, poisson_ratio=nu)

    def on_centre(x: np.ndarray) -> np.ndarray:
        return size * unit_heights("centre", x / radius, poisson_ratio=nu)

    pair = write_pair(tmp_path, change_per_m=CHANGE, sag_pre=on_rim, sag_post=on_centre)
    stated = {k: v for k, v in STATED.items() if k != "support"}
    stated |= {"substrate": "fused silica", "pre_support": "rim", "post_support": "centre"}
    refused = measure_film(*pair, **stated)
    assert refused.refusal is not None
    assert refused.refusal.code is RefusalCode.SUPPORT_UNKNOWN
    result = measure_film(*pair, **stated, diameter="100 mm")
    plain = measure_film(*pair, **{**STATED, "substrate": "fused silica"})
    want = 87.0659e9 * h_s**2 * CHANGE / 6e-6 / (1 + 1 / 525)
    assert result.stress is not None
    assert plain.stress is not None
    assert plain.stress.value < 0.5 * want
    assert result.stress.value == pytest.approx(want, rel=5e-3)
    assert any(row.term.input == "support and gravity" for row in result.budget.rows)


def test_an_uncoated_ring_holds_the_film_back(pair: tuple[str, str]) -> None:
    stated = {**STATED, "substrate": "Si(111)", "diameter": "100 mm"}
    full = measure_film(*pair, **stated)
    ring = measure_film(*pair, **stated, film_uncoated_ring="3 mm ± 0.2 mm")
    assert full.stress is not None
    assert ring.stress is not None
    # The curvature in the covered part is (1 + nu)/2 + (1 - nu)/2 (r_f/R)^2 of a full film's, with
    # nu = 0.26183 in {111}: 4.30 % less for 3 mm on 100 mm (plate theory, by hand).
    want = 0.5 * 1.26183 + 0.5 * 0.73817 * (47 / 50) ** 2
    assert full.stress.value / ring.stress.value == pytest.approx(want, rel=1e-5)
    assert want == pytest.approx(1 - 0.0430, abs=5e-5)
    term = next(r.term for r in ring.budget.rows if r.term.input == "uncoated ring")
    share = 0.2e-3 * 0.73817 * 0.047 / 0.05**2 / want
    assert term.contribution == pytest.approx(share * ring.stress.value, rel=1e-3)
    with pytest.raises(RefusedInput, match="not the wafer's diameter"):
        measure_film(*pair, **STATED, film_uncoated_ring="3 mm")


def test_large_bow_is_corrected(tmp_path: Path) -> None:
    # K = kappa R^2 / (4 h) = 0.12: full-diameter fits read 1.5 % low there, partial ones more.
    pair = write_pair(tmp_path, change_per_m=0.1)
    known = measure_film(*pair, **STATED, diameter="100 mm")
    unknown = measure_film(*pair, **STATED)
    assert "large-deflection" in codes(known)
    assert known.stress is not None
    assert unknown.stress is not None
    assert known.stress_stoney is not None
    assert 1.01 < known.stress.value / known.stress_stoney.value < 1.04
    # An unstated diameter lies between that of the scan (80 mm) and half again as much: so does
    # the stress, and the budget asks for it.
    ends = [measure_film(*pair, **STATED, diameter=f"{wide} mm (exact)") for wide in (80, 120)]
    low, high = (end.stress.value for end in ends if end.stress is not None)
    assert low < known.stress.value < high
    assert unknown.stress.value == pytest.approx(0.5 * (low + high), rel=1e-3)
    (row,) = (row.term for row in unknown.budget.rows if row.term.input == "diameter")
    assert row.contribution == pytest.approx((high - low) / math.sqrt(12.0), rel=0.05)
    wide = measure_film(*pair, **STATED, diameter="300 mm")
    assert wide.stress is None
    assert wide.refusal is not None
    assert wide.refusal.code is RefusalCode.BEYOND_BIFURCATION


def test_a_flat_stage_is_refused_where_the_sag_hides_the_film(tmp_path: Path) -> None:
    weak = write_pair(tmp_path, change_per_m=0.01)
    strong = write_pair(tmp_path, change_per_m=0.08)
    stated = {**STATED, "support": "flat-stage", "diameter": "100 mm"}
    refused = measure_film(*weak, **stated)
    assert refused.refusal is not None
    assert refused.refusal.code is RefusalCode.FLAT_STAGE_SAG
    told = measure_film(*strong, **stated)
    assert told.refusal is None
    assert "sag-not-small" in codes(told)


def test_every_default_is_told(pair: tuple[str, str]) -> None:
    result = measure_film(
        *pair, substrate="Si(001)", substrate_thickness="525 um", film_thickness="1 um"
    )
    told = [n.message for n in result.warnings if n.code is WarningCode.DEFAULT_USED]
    for name in ("substrate thickness", "film thickness", "height scale", "bow repeatability"):
        assert any(name in message for message in told), name
    assert {"nominal-thickness", "support-assumed", "equibiaxial-assumed"} <= codes(result)
    term = next(r.term for r in result.budget.rows if r.term.input == "substrate thickness")
    assert term.u == pytest.approx(20e-6 / math.sqrt(3.0))


def test_all_faults_come_at_once(pair: tuple[str, str]) -> None:
    with pytest.raises(Faults) as caught:
        measure_film(
            *pair,
            substrate="Si(001)",
            substrate_thickness="525 mm",
            film_thickness="1000 A",
            film_face="sideways",
        )
    text = str(caught.value)
    for part in ("substrate_thickness", "525 mm", "film_thickness", "ampere", "sideways"):
        assert part in text, part


def test_an_unknown_setting_names_the_nearest(pair: tuple[str, str]) -> None:
    with pytest.raises(UsageError, match="substrate_thickness"):
        measure_film(*pair, **STATED, substrate_thicknes="525 um")  # type: ignore[call-arg]


def test_bow_repeatability_enters_for_each_scan(pair: tuple[str, str]) -> None:
    result = measure_film(*pair, **STATED, bow_repeatability="15 nm")
    term = next(r.term for r in result.budget.rows if r.term.input == "bow repeatability")
    assert term.u == pytest.approx(15e-9 * math.sqrt(2.0))
    assert result.curvature_change.u is not None
    assert result.curvature_change.u > 8 * 15e-9 * math.sqrt(2.0) / 0.08**2
