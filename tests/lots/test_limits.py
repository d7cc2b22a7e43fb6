"""Limits between wafers and within a wafer, and the mean of a lot: what is shared cancels or stays.

Against the `uncertainties` package and GTC, which carry correlations through by themselves.
"""

from __future__ import annotations

import math
from pathlib import Path
from statistics import NormalDist

import GTC
import numpy as np
import pytest
import scipy.stats
from uncertainties import ufloat

from filmstress.lots.batch import measure_lot
from filmstress.lots.limits import lot_limits
from filmstress.lots.manifest import read_lot
from filmstress.lots.statistics import lot_statistics
from filmstress.lots.terms import direction_terms
from filmstress.physics import elasticity
from filmstress.physics.azimuths import force_from_azimuths, normal_row
from filmstress.records.budget import Term
from filmstress.records.lot import Specification, WaferOutcome
from filmstress.stats.joint_range import independent_parts
from filmstress.substrates.catalogue import find_cut, in_plane_direction
from tests.lots.outcomes import MPA, outcome, refused, term
from tests.lots.writing import HEAD, write_lot

PHI = NormalDist().cdf
# About what Si(001) has along <110>, but exact; without the diameter the plate stays linear.
YOUNGS, POISSON = 169e9, 0.064
ISOTROPIC = HEAD.replace('diameter = "150 mm"\n', "").replace(
    'material = "Si(001)"\nazimuth_reference = "[110]"',
    'youngs_modulus = "169 GPa (exact)"\npoisson_ratio = "0.064 (exact)"',
)


def thickness(u_mpa: float) -> Term:
    """A film thickness stated once for the lot."""
    return term("film thickness", u_mpa, common_to="lot K7")


def spread(*outcomes: WaferOutcome, limit: float) -> tuple[float | None, float | None, str]:
    (found,) = lot_limits(outcomes, Specification(spread_max=limit * MPA))
    return found.found, found.conformance_probability, found.gap


def test_what_two_wafers_share_cancels_between_them() -> None:
    """|N(6, 2 x 2^2)| <= 10, closed form; the 50 MPa of the lot's thickness are no matter."""
    pair = [
        outcome(name, value, thickness(50.0), u_mpa=2.0) for name, value in [("1", 0), ("2", 6)]
    ]
    found, probability, gap = spread(*pair, limit=10.0)
    u = math.sqrt(8.0)
    assert found == pytest.approx(6 * MPA)
    assert probability == pytest.approx(PHI(4 / u) - PHI(-16 / u), rel=1e-6)
    assert gap == ""


def test_what_they_do_not_share_does_not_cancel() -> None:
    own = [
        outcome(name, value, term("film thickness", 3.0, common_to=f"wafer {name}"), u_mpa=4.0)
        for name, value in [("1", 0), ("2", 6)]
    ]
    u = math.sqrt(50.0)
    assert spread(*own, limit=10.0)[1] == pytest.approx(PHI(4 / u) - PHI(-16 / u), rel=1e-6)


def test_a_shared_share_of_two_stresses_leaves_that_share_of_their_difference() -> None:
    """A thickness known to 5 %: of 200 and 300 MPa, 10 and 15 MPa, whose difference is 5."""
    one = outcome("1", 200.0, thickness(10.0), u_mpa=1.0)
    other = outcome("2", 300.0, thickness(15.0), u_mpa=1.0)
    u = math.sqrt(5.0**2 + 2.0)
    probability = spread(one, other, limit=110.0)[1]
    assert probability == pytest.approx(PHI(10 / u) - PHI(-210 / u), rel=1e-6)


@pytest.mark.parametrize("n", [3, 10, 25])
def test_many_wafers_spread_more_than_any_two(n: int) -> None:
    """Equal wafers: the studentized range with infinite degrees of freedom, scipy.stats."""
    wafers = [outcome(str(i), 100.0, thickness(30.0), u_mpa=2.0) for i in range(n)]
    expected = scipy.stats.studentized_range.cdf(7.0 / 2.0, n, np.inf)
    found, probability, _ = spread(*wafers, limit=7.0)
    assert found == 0.0
    assert probability == pytest.approx(expected, abs=1e-6)
    pair = PHI(7.0 / math.sqrt(8.0)) - PHI(-7.0 / math.sqrt(8.0))
    assert probability < pair


def test_witnesses_and_refused_wafers_have_no_part_in_the_spread() -> None:
    wafers = [outcome("1", 0.0, u_mpa=1.0), outcome("2", 3.0, u_mpa=1.0)]
    others = [outcome("W", 500.0, u_mpa=1.0, role="witness"), refused("3")]
    assert spread(*wafers, *others, limit=10.0) == spread(*wafers, limit=10.0)


def test_one_wafer_has_no_spread_to_judge() -> None:
    found, probability, gap = spread(outcome("1", 0.0, u_mpa=1.0), refused("2"), limit=10.0)
    assert (found, probability) == (None, None)
    assert gap == "there are no two wafers to compare"


def test_without_limits_there_is_nothing_to_judge() -> None:
    assert lot_limits([], None) == ()
    assert lot_limits([], Specification(lower=0.0)) == ()


def test_mean_of_a_lot_keeps_what_its_wafers_share() -> None:
    """Against GTC and the uncertainties package, the wafers' own inputs and two shared ones."""
    values, own = [190.0, 200.0, 215.0], [2.0, 3.0, 4.0]
    shares = {"film thickness": 0.02, "height scale": 0.005}
    wafers = [
        outcome(
            str(i),
            value,
            *(term(name, share * value, common_to="lot") for name, share in shares.items()),
            u_mpa=u,
        )
        for i, (value, u) in enumerate(zip(values, own, strict=True))
    ]
    statistics = lot_statistics(wafers)
    assert statistics.mean is not None

    factors = [ufloat(1.0, share) for share in shares.values()]
    stresses = [
        ufloat(value, u) * factors[0] * factors[1] for value, u in zip(values, own, strict=True)
    ]
    mean = sum(stresses) / 3
    assert statistics.mean.value == pytest.approx(mean.nominal_value * MPA)
    assert statistics.mean.u == pytest.approx(mean.std_dev * MPA, rel=1e-9)

    thick, scale = (GTC.ureal(1.0, share) for share in shares.values())
    parts = [GTC.ureal(value, u) * thick * scale for value, u in zip(values, own, strict=True)]
    assert statistics.mean.u == pytest.approx(GTC.uncertainty(sum(parts) / 3) * MPA, rel=1e-9)
    # It cannot fall below what is shared, however many wafers there are.
    assert statistics.mean.u > 200.0 * 0.02 * MPA


def test_degrees_of_freedom_of_a_mean_are_those_of_welch_and_satterthwaite() -> None:
    """Against GTC: two wafers with 3 and 5 degrees of freedom, and a shared input known well."""
    wafers = [
        outcome("1", 100.0, term("fit", 4.0, dof=3.0), thickness(1.0)),
        outcome("2", 120.0, term("fit", 2.0, dof=5.0), thickness(1.0)),
    ]
    found = lot_statistics(wafers).mean
    shared = GTC.ureal(0.0, 1.0)
    mean = (GTC.ureal(100.0, 4.0, 3) + GTC.ureal(120.0, 2.0, 5)) / 2 + shared
    assert found is not None
    assert found.dof == math.floor(GTC.dof(mean))
    assert found.u == pytest.approx(GTC.uncertainty(mean) * MPA)


def test_numbers_of_a_lot() -> None:
    """The standard deviation by its textbook form, statistics.stdev of the standard library."""
    from statistics import stdev

    values = [190.0, 200.0, 215.0]
    wafers = [outcome(str(i), value, u_mpa=1.0) for i, value in enumerate(values)]
    found = lot_statistics([*wafers, refused("3"), outcome("W", 0.0, u_mpa=1.0, role="witness")])
    assert (found.measured, found.refused) == (3, 1)
    assert found.standard_deviation == pytest.approx(stdev(values) * MPA)
    assert (found.lowest, found.highest) == (190 * MPA, 215 * MPA)
    alone = lot_statistics(wafers[:1])
    assert alone.standard_deviation is None
    nothing = lot_statistics([refused("1")])
    assert (nothing.measured, nothing.refused, nothing.mean) == (0, 1, None)


@pytest.fixture(scope="module")
def two_azimuths(tmp_path_factory: pytest.TempPathFactory) -> list[WaferOutcome]:
    folder = tmp_path_factory.mktemp("within")
    path = write_lot(
        folder,
        {"even": 200e6, "uneven": (215e6, 185e6)},
        azimuths=(0.0, math.pi / 2),
        head=ISOTROPIC,
        tail="[specification]\nwithin_max = '20 MPa'\n",
    )
    return list(measure_lot(read_lot(path)).wafers)


def test_terms_by_direction_belong_to_the_stresses_of_the_result(
    two_azimuths: list[WaferOutcome],
) -> None:
    for one in two_azimuths:
        assert one.result is not None
        budgets = [sum(t.contribution**2 for t in terms) for terms in direction_terms(one)]
        stated = [along.stress.u for along in one.result.stress_by_direction]
        assert np.sqrt(budgets) == pytest.approx(stated, rel=1e-6)


def test_difference_between_azimuths_against_the_uncertainties_package(
    two_azimuths: list[WaferOutcome],
) -> None:
    """N_i = (h^2 / 6) E / (1 - nu^2) (k_i + nu k_j) on an isotropic plate, over h_f."""
    for one in two_azimuths:
        assert one.result is not None
        h_s, h_f = ufloat(675e-6, 1e-6), ufloat(500e-9, 3e-9)
        scale = ufloat(1.0, 1e-3) / ufloat(1.0, 5e-4) ** 2
        kappa = [
            ufloat(line.change.curvature, math.hypot(*(t.contribution for t in line.terms)))
            for line in one.result.lines
        ]
        per_curvature = h_s**2 / (6 * h_f) * scale * YOUNGS / (1 - POISSON**2)
        stresses = [per_curvature * (kappa[i] + POISSON * kappa[1 - i]) for i in (0, 1)]
        difference = stresses[0] - stresses[1]
        # The bound on the bending of a wafer of unstated diameter is not in the equation above.
        linear = [
            [term for term in terms if term.input != "large deflection"]
            for terms in direction_terms(one)
        ]
        budgets = independent_parts(linear)
        found = math.hypot(*(budget.u for budget in budgets))
        # The tool's stress is the mean the film carries now, 1e-3 beside the plain equation.
        assert found == pytest.approx(difference.std_dev, rel=5e-3)
        # Thicknesses and scales are most of each stress, and little of the difference.
        assert found < 0.4 * min(stress.std_dev for stress in stresses)


def test_within_a_wafer_the_worst_one_decides(two_azimuths: list[WaferOutcome]) -> None:
    """The true differences are 0 and 30 MPa."""
    (limit,) = lot_limits(two_azimuths, Specification(within_max=20 * MPA))
    assert limit.found == pytest.approx(30 * MPA, abs=3 * MPA)
    assert limit.conformance_probability is not None
    assert limit.conformance_probability < 1e-3
    (even,) = lot_limits(two_azimuths[:1], Specification(within_max=20 * MPA))
    assert even.conformance_probability is not None
    assert even.conformance_probability > 0.999


def test_one_azimuth_says_nothing_of_a_difference_within() -> None:
    (limit,) = lot_limits(
        [outcome("1", 0.0, u_mpa=1.0), outcome("W", 0.0, u_mpa=1.0, role="witness")],
        Specification(within_max=20 * MPA),
    )
    assert (limit.found, limit.conformance_probability) == (None, None)
    assert limit.gap == "one azimuth alone says nothing of it, wafers: 1"


def test_constants_of_an_anisotropic_cut_differ_between_azimuths(tmp_path: Path) -> None:
    """u of the difference from each elastic constant apart, by differences over the tensor form."""
    path = write_lot(
        tmp_path,
        {"01": (230e6, 170e6)},
        azimuths=(0.0, math.pi / 2),
        head=HEAD.replace("Si(001)", "Si(110)").replace("[110]", "[001]"),
    )
    (one,) = measure_lot(read_lot(path)).wafers
    assert one.result is not None
    azimuths = np.array([along.azimuth for along in one.result.stress_by_direction])
    kappa = np.array([line.change.curvature for line in one.result.lines])
    cut = find_cut("Si(110)")
    reference = in_plane_direction(cut, "[001]").vector

    def difference(constants: dict[str, float]) -> float:
        stiffness = elasticity.stiffness_matrix(cut.system, constants)
        plate = elasticity.plane_stress_stiffness(stiffness, cut.normal, reference)
        force = normal_row(azimuths) @ force_from_azimuths(plate, azimuths) @ kappa
        return float(force[0] - force[1]) * 675e-6**2 / (6 * 500e-9)

    effects = []
    for name, constant in cut.elastic.items():
        step = 1e-4 * constant.value
        up, down = (
            difference({**cut.elastic_values(), name: constant.value + sign * step})
            for sign in (1, -1)
        )
        effects.append((up - down) / (2 * step) * (constant.measured().u or 0.0))
    moduli = [
        {t.input: t.sensitivity * t.u for t in terms if t.input.startswith("substrate modulus, c")}
        for terms in direction_terms(one)
    ]
    assert len(moduli[0]) == 3
    found = math.hypot(*(moduli[0][name] - moduli[1][name] for name in moduli[0]))
    assert found == pytest.approx(math.hypot(*effects), rel=0.02)
