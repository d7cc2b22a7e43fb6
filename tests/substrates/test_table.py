"""The table: every value has a unit, an uncertainty, a status and a source."""

import itertools
import math
import re

import numpy as np
import pytest

from filmstress.errors import SubstrateError
from filmstress.records.quantity import Source
from filmstress.substrates.catalogue import find_cut
from filmstress.substrates.materials import MATERIALS, find_material
from filmstress.substrates.table import CURRENT_EDITION, Constant, Status, editions, rows

ROWS = rows()
VOIGT = {"c11": (0, 0), "c12": (0, 1), "c13": (0, 2), "c14": (0, 3), "c33": (2, 2), "c44": (3, 3)}


def a_row(**changes):
    row = {
        "material": "Si",
        "dataset": "",
        "symbol": "density",
        "value": 2329.0,
        "unit": "kg/m^3",
        "u": 1.0,
        "status": Status.DERIVED,
        "source": "a book",
        "edition": "2026-11",
    }
    return Constant(**{**row, **changes})


def test_no_row_without_a_source():
    del_source = {k: getattr(a_row(), k) for k in ("material", "dataset", "symbol", "value")}
    with pytest.raises(TypeError, match="source"):
        Constant(**del_source, unit="kg/m^3", u=1.0, status=Status.DERIVED, edition="2026-11")
    with pytest.raises(ValueError, match="has no source"):
        a_row(source=" ")


def test_no_row_with_an_impossible_uncertainty():
    for u in (-1.0, math.nan):
        with pytest.raises(ValueError, match="uncertainty"):
            a_row(u=u)


def test_every_row_is_complete():
    for row in ROWS:
        assert len(row.source) > 10, row
        assert row.conditions, row
        assert row.edition == CURRENT_EDITION
        # An uncertainty of zero would say that a material constant is exact.
        assert row.u > 0.0, row


def test_values_are_the_printed_ones_to_the_last_bit():
    # Scaling 165.7 GPa by multiplication would leave rounding in the last bit.
    assert find_cut("Si(001)").constant("c11").value == 165.7e9
    assert find_cut("fused silica").constant("mean_cte").value == 0.55e-6


def test_no_value_stands_twice():
    keys = [(row.material, row.dataset, row.symbol) for row in ROWS]
    assert len(keys) == len(set(keys))


def test_materials_and_rows_belong_together():
    assert {row.material for row in ROWS} == {material.key for material in MATERIALS}
    for material in MATERIALS:
        datasets = {row.dataset for row in ROWS if row.material == material.key} - {""}
        if material.system == "isotropic":
            assert not datasets
        else:
            assert material.default_dataset in datasets
        for dataset in datasets:
            name = f"{material.key}[{dataset}]({material.cuts[0]})"
            cut = find_cut(name)
            assert len(cut.elastic) == {"cubic": 3, "hexagonal": 5, "trigonal": 6}[material.system]
        cut = find_cut(material.example)
        assert cut.density.unit == "kg/m^3"
        assert 800.0 < cut.density.value < 25000.0


def test_every_dataset_of_a_material_carries_the_same_uncertainty():
    for material, symbol in itertools.product(MATERIALS, VOIGT):
        u = {r.u for r in ROWS if (r.material, r.symbol) == (material.key, symbol)}
        assert len(u) <= 1, (material.key, symbol)


@pytest.mark.parametrize("material", [m for m in MATERIALS if m.system != "isotropic"])
def test_datasets_agree_within_their_uncertainty(material):
    """An outlier in the table is a slip of the pen: sets of one material agree within 3 sigma."""
    by_symbol = {}
    for row in rows(material.key):
        if row.symbol in VOIGT:
            by_symbol.setdefault(row.symbol, []).append((row.value, row.u))
    for symbol, values in by_symbol.items():
        for (a, u), (b, _) in itertools.combinations(values, 2):
            assert abs(a - b) <= 3.0 * u, (material.key, symbol, a, b)


@pytest.mark.parametrize("material", MATERIALS)
def test_every_stiffness_is_stable(material):
    """Born's condition: the energy of every strain is positive, also 2 sigma away."""
    from filmstress.physics.elasticity import stiffness_matrix

    cut = find_cut(material.example)
    for sign in (0.0, 2.0, -2.0):
        values = {k: c.value + sign * c.u for k, c in cut.elastic.items()}
        assert np.linalg.eigvalsh(stiffness_matrix(cut.system, values)).min() > 0.0


def test_density_of_crystals_follows_from_the_cell():
    """Cell volume and formula mass give the density: an independent route to two kinds of rows.

    Formula masses from the IUPAC standard atomic weights (2021), formula units per cell from any
    book of crystal structures.
    """
    formula = {
        "4H-SiC": (40.096, 4),
        "6H-SiC": (40.096, 6),
        "GaN": (83.730, 2),
        "AlN": (40.989, 2),
        "sapphire": (101.961, 6),
        "quartz": (60.083, 3),
        "LiNbO3": (147.843, 6),
        "LiTaO3": (235.884, 6),
    }
    for key, (mass, units) in formula.items():
        cut = find_cut(find_material(key).example)
        a, c = cut.constant("lattice_a").value, cut.constant("lattice_c").value
        density = units * mass * 1.66053907e-27 / (math.sqrt(0.75) * a * a * c)
        # Grown crystals are not ideal cells: congruent lithium tantalate holds 0.4 % more tantalum.
        assert density == pytest.approx(cut.density.value, rel=6e-3), key


def test_mean_expansion_of_silicon_follows_from_the_printed_formula():
    """Okada and Tokumaru, J. Appl. Phys. 56 (1984) 314, integrated numerically."""
    from scipy.integrate import quad

    def alpha(t):
        return (3.725 * (1.0 - math.exp(-5.88e-3 * (t - 124.0))) + 5.548e-4 * t) * 1e-6

    cut = find_cut("Si(001)")
    mean = quad(alpha, 293.15, 573.15)[0] / 280.0
    assert cut.constant("mean_cte").value == pytest.approx(mean, rel=1e-6)
    assert cut.constant("cte").value == pytest.approx(alpha(300.0), rel=1e-6)


def test_editions():
    assert CURRENT_EDITION in editions()
    assert all(re.fullmatch(r"\d{4}-\d{2}", edition) for edition in editions())
    with pytest.raises(SubstrateError, match="no edition '1999-01'") as caught:
        rows(edition="1999-01")
    assert CURRENT_EDITION in caught.value.hint


def test_a_row_as_an_input_of_a_measurement():
    measured = find_cut("Si(001)").constant("c11").measured()
    assert (measured.value, measured.u, measured.unit) == (165.7e9, 0.3e9, "Pa")
    assert measured.source is Source.TABLE
    assert "Mason" in measured.read_as


def test_piezoelectric_wafers_carry_the_stiffening_of_an_open_surface():
    relative = {row.material: row.u for row in ROWS if row.symbol == "stiffening"}
    assert relative["LiNbO3"] == 0.03
    assert relative["LiTaO3"] == 0.02
    assert relative["quartz"] == 0.005
