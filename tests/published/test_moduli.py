"""Moduli of substrate cuts: printed values, closed forms, and an independent computation.

The tables of this file were computed from the same constants by another program, which inverted
the rotated compliance in place of the elimination used here; they are given to the printed digits.
"""

import numpy as np
import pytest

from filmstress.physics.elasticity import (
    biaxial_modulus,
    biaxial_response,
    plane_stress_stiffness,
    plane_stress_stiffness_derivatives,
    rotate_stiffness,
    rotation,
    stiffness_derivatives,
    stiffness_matrix,
)
from filmstress.substrates.catalogue import find_cut, in_plane_direction

R_PLANE = (0.0, np.sin(np.radians(57.61)), np.cos(np.radians(57.61)))


def rotated_y(angle_deg):
    return (0.0, np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg)))


def reduced(name, e1, normal=None, **changes):
    """Q [GPa] of a row of the table; constants may be overridden."""
    cut = find_cut(name)
    constants = {**cut.elastic_values(), **changes}
    vector = in_plane_direction(cut, e1).vector if isinstance(e1, str) else e1
    stiffness = stiffness_matrix(cut.system, constants)
    return plane_stress_stiffness(stiffness, normal or cut.normal, vector) / 1e9


CUBIC = [
    # (001), (111), (110) along [001], (110) along [1-10], GPa
    ("Si", 180.3156, 229.0825, 197.0255, 240.3560),
    ("Si[McSkimin 1964]", 180.3977, 229.1751, 197.1122, 240.4485),
    ("Si[Hall 1967]", 180.2160, 228.9663, 196.9288, 240.2241),
    ("Ge", 140.5490, 183.2403, 155.0676, 193.7348),
    ("Ge[CRC 2001]", 140.3333, 182.9586, 154.8353, 193.4280),
    ("GaAs", 123.8946, 173.8809, 142.7971, 184.5890),
    ("InP", 94.9407, 147.4826, 116.9543, 156.6261),
    ("GaP", 147.7582, 204.5120, 168.9240, 216.8653),
    ("3C-SiC", 441.3975, 572.6536, 481.7212, 611.2162),
    ("MgO", 330.4851, 411.1826, 355.5086, 432.9016),
    ("SrTiO3", 351.4604, 377.1688, 359.1772, 382.8913),
    ("diamond", 1174.4995, 1264.6430, 1187.4934, 1300.5613),
]


@pytest.mark.parametrize(("name", "m001", "m111", "along_001", "along_110"), CUBIC)
def test_cubic_crystals(name, m001, m111, along_001, along_110):
    assert biaxial_modulus(reduced(f"{name}(001)", "[110]")) == pytest.approx(m001, abs=6e-5)
    assert biaxial_modulus(reduced(f"{name}(111)", "[1-10]")) == pytest.approx(m111, abs=6e-5)
    response = biaxial_response(reduced(f"{name}(110)", "[001]"))
    np.testing.assert_allclose(response, (along_001, along_110, 0.0), atol=6e-5)


@pytest.mark.parametrize(("name", "m001", "m111", "along_001", "along_110"), CUBIC)
def test_cubic_closed_forms(name, m001, m111, along_001, along_110):
    """Nix, Metall. Trans. A 20 (1989) 2217, for (001) and (111); (110) eliminated by hand."""
    c = find_cut(f"{name}(001)").elastic_values()
    c11, c12, c44 = (c[symbol] / 1e9 for symbol in ("c11", "c12", "c44"))
    assert c11 + c12 - 2 * c12**2 / c11 == pytest.approx(m001, abs=6e-5)
    assert 6 * c44 * (c11 + 2 * c12) / (c11 + 2 * c12 + 4 * c44) == pytest.approx(m111, abs=6e-5)
    c33, c23 = (c11 + c12 + 2 * c44) / 2, (c11 + c12 - 2 * c44) / 2
    assert c11 + c12 - c12 * (c12 + c23) / c33 == pytest.approx(along_001, abs=6e-5)
    assert c12 + c33 - c23 * (c12 + c23) / c33 == pytest.approx(along_110, abs=6e-5)


BASAL = [
    # M, Q11, Q12, Q66 of the basal plane, GPa
    ("4H-SiC", 605.1133, 502.0567, 103.0567, 199.5000),
    ("6H-SiC", 602.2206, 496.1103, 106.1103, 195.0000),
    ("GaN", 478.5377, 361.7688, 116.7688, 122.5000),
    ("AlN", 509.6093, 385.8046, 123.8046, 131.0000),
    ("sapphire", 606.3727, 467.1693, 139.2035, 163.9829),
    ("sapphire[Wachtman 1960]", 611.0171, 468.3619, 142.6552, 162.8534),
    ("sapphire[CRC 2001]", 610.8748, 468.3550, 142.5198, 162.9176),
    ("quartz", 91.0836, 79.8806, 11.2030, 34.3388),
    ("quartz[McSkimin 1965]", 91.1573, 79.8669, 11.2904, 34.2882),
    ("quartz[Heyliger 2003]", 91.0488, 80.1011, 10.9477, 34.5767),
    ("LiNbO3", 210.0816, 178.6908, 31.3908, 73.6500),
    ("LiNbO3[Kushibiki 1999]", 214.8145, 178.4779, 36.3366, 71.0706),
    ("LiNbO3[Andrushchak 2009]", 213.9695, 178.0555, 35.9139, 71.0708),
    ("LiTaO3", 233.4545, 208.4400, 25.0145, 91.7128),
    ("LiTaO3[Kushibiki 1999]", 228.8718, 206.5278, 22.3440, 92.0919),
]


@pytest.mark.parametrize(("name", "modulus", "q11", "q12", "q66"), BASAL)
def test_basal_planes(name, modulus, q11, q12, q66):
    q = reduced(f"{name}(0001)", "[2-1-10]")
    assert biaxial_modulus(q) == pytest.approx(modulus, abs=6e-5)
    expected = [[q11, q12, 0], [q12, q11, 0], [0, 0, q66]]
    np.testing.assert_allclose(q, expected, atol=6e-5)


@pytest.mark.parametrize(("name", "modulus", "q11", "q12", "q66"), BASAL)
def test_basal_closed_forms(name, modulus, q11, q12, q66):
    """M = c11 + c12 - 2 c13^2/c33: c14 cancels in it, and enters Q66 = c66 - c14^2/c44."""
    c = {k: v / 1e9 for k, v in find_cut(f"{name}(0001)").elastic_values().items()}
    by_hand = c["c11"] + c["c12"] - 2 * c["c13"] ** 2 / c["c33"]
    assert by_hand == pytest.approx(modulus, abs=6e-5)
    c66 = (c["c11"] - c["c12"]) / 2
    assert c66 - c.get("c14", 0.0) ** 2 / c["c44"] == pytest.approx(q66, abs=6e-5)


FULL = [
    # name, e1, normal (None: that of the name), Q11, Q22, Q12, Q66, Q16, Q26, tolerance; GPa
    ("Si(001)", "[100]", None, 141.05782, 141.05782, 39.25782, 79.6, 0, 0, 6e-6),
    ("Si(001)", "[110]", None, 169.75782, 169.75782, 10.55782, 50.9, 0, 0, 6e-6),
    ("Si(111)", "[11-2]", None, 181.54744, 181.54744, 47.53509, 67.00617, 0, 0, 6e-6),
    ("Si(110)", "[001]", None, 144.69583, 188.02634, 52.32963, 79.6, 0, 0, 6e-6),
    ("Si(112)", "[1-10]", None, 174.18009, 193.49468, 31.34868, 57.85302, 0, 0, 6e-6),
    ("Si(013)", "[100]", None, 142.13743, 154.99618, 43.13700, 79.6, 0, 0, 6e-6),
    ("Ge(001)", "[110]", None, 137.0745, 137.0745, 3.4745, 40.1350, 0, 0, 6e-5),
    ("GaAs(001)", "[110]", None, 121.3873, 121.3873, 2.5073, 32.5250, 0, 0, 6e-5),
    ("GaAs(111)", "[1-10]", None, 133.52941, 133.52941, 40.35152, 46.58895, 0, 0, 6e-6),
    # The normal of the r-plane is printed to 0.01 deg, which is 0.004 GPa of Q22.
    ("sapphire(c)", (1, 0, 0), R_PLANE, 431.0565, 414.0491, 47.1357, 132.8557, 0, 0, 4e-3),
    ("sapphire(01-10)", "X", None, 438.210, 473.663, 77.007, 143.932, 0, 0, 6e-4),
    ("sapphire(c)", (0, 1, 0), (1, 0, 0), 444.005, 473.842, 78.025, 145.836, -29.069, -5.108, 6e-4),
    ("quartz(AT)", "X", None, 85.9316, 99.6693, 27.5627, 68.5836, 0, 0, 6e-5),
    ("LiNbO3(128Y)", "X", None, 186.360, 156.754, 45.459, 77.624, 0, 0, 6e-4),
    ("LiNbO3[Kushibiki 1999](128Y)", "X", None, 184.171, 156.153, 45.213, 74.789, 0, 0, 6e-4),
    ("LiTaO3(42Y)", "X", None, 221.151, 231.938, 60.370, 104.487, 0, 0, 6e-4),
    ("LiTaO3[Kushibiki 1999](42Y)", "X", None, 220.007, 235.196, 61.146, 105.076, 0, 0, 6e-4),
    ("LiTaO3(36Y)", "X", None, 223.067, 239.440, 64.969, 104.013, 0, 0, 6e-4),
]


@pytest.mark.parametrize(
    ("name", "e1", "normal", "q11", "q22", "q12", "q66", "q16", "q26", "tolerance"), FULL
)
def test_full_stiffness(name, e1, normal, q11, q22, q12, q66, q16, q26, tolerance):
    expected = [[q11, q12, q16], [q12, q22, q26], [q16, q26, q66]]
    np.testing.assert_allclose(reduced(name, e1, normal), expected, atol=tolerance)


def test_the_wrong_sign_of_c14_would_cost_a_fifth_on_the_r_plane():
    right = biaxial_response(reduced("sapphire(c)", (1, 0, 0), R_PLANE))
    wrong = biaxial_response(reduced("sapphire(c)", (1, 0, 0), R_PLANE, c14=-21.9e9))
    np.testing.assert_allclose(right, (478.192, 461.185, 0), atol=6e-4)
    np.testing.assert_allclose(wrong, (575.576, 518.603, 0), atol=6e-4)


def test_named_r_plane_is_the_right_one():
    """The table's r-plane, by whatever name, has the small moduli and not those of its mirror."""
    for name in ("sapphire(r)", "sapphire(1-102)", "sapphire(01-12)"):
        response = biaxial_response(reduced(name, "[11-20]" if "01-12" not in name else "X"))
        np.testing.assert_allclose(response, (478.192, 461.185, 0), rtol=1e-4, atol=1e-6)


def test_shear_stiffness_of_the_at_cut():
    """c66' = 29.0 GPa, which sets the frequency of every AT resonator (Bechmann 1958; memory)."""
    cut = find_cut("quartz(AT)")
    axes = rotation(cut.normal, in_plane_direction(cut, "X").vector)
    turned = rotate_stiffness(stiffness_matrix(cut.system, cut.elastic_values()), axes)
    # Thickness shear of X against the plate normal is the 13 component in wafer axes.
    assert turned[4, 4] / 1e9 == pytest.approx(29.01, abs=0.005)


@pytest.mark.parametrize(
    ("direction", "modulus"),
    [((1, 0, 0), 130.0), ((1, 1, 0), 169.0), ((1, 1, 1), 188.0)],
)
def test_printed_youngs_moduli_of_silicon(direction, modulus):
    """Hopcroft, Nix and Kenny, J. Microelectromech. Syst. 19 (2010) 229: 130, 169, 188 GPa."""
    compliance = np.linalg.inv(
        stiffness_matrix("cubic", find_cut("Si(001)").elastic_values()) / 1e9
    )
    n = np.array(direction) / np.linalg.norm(direction)
    # Young's modulus along n from the strain energy of a uniaxial stress n n^T.
    load = np.array([n[0] ** 2, n[1] ** 2, n[2] ** 2, n[1] * n[2], n[0] * n[2], n[0] * n[1]])
    assert 1.0 / (load @ compliance @ load) == pytest.approx(modulus, abs=0.5)


@pytest.mark.parametrize(
    ("e1", "e2", "ratio"),
    [
        ((1, 0, 0), (0, 1, 0), 0.28),
        ((1, 1, 0), (1, -1, 0), 0.064),
        ((1, 1, 0), (0, 0, 1), 0.36),
    ],
)
def test_printed_poisson_ratios_of_silicon(e1, e2, ratio):
    """Same source: 0.28 for <100>, 0.064 in the (001) plane and 0.36 across it for <110>."""
    stiffness = stiffness_matrix("cubic", find_cut("Si(001)").elastic_values())
    q = plane_stress_stiffness(stiffness, np.cross(e1, e2), e1)
    compliance = np.linalg.inv(q)
    assert -compliance[1, 0] / compliance[0, 0] == pytest.approx(ratio, abs=0.005)


@pytest.mark.parametrize(("plane", "modulus"), [("(001)", 180.3), ("(111)", 229.1)])
def test_biaxial_moduli_of_silicon(plane, modulus):
    """Janssen et al., Thin Solid Films 517 (2009) 1858: 180.3, 229.1 GPa (digits from memory)."""
    q = reduced(f"Si{plane}", "[1-10]")
    assert biaxial_modulus(q) == pytest.approx(modulus, abs=0.05)


@pytest.mark.parametrize(
    ("s11", "s12", "s44", "m001", "m111"), [(7.68, -2.14, 12.56, 180.505415, 229.357798)]
)
def test_rounded_compliances_explain_the_other_numbers(s11, s12, s44, m001, m111):
    """Brantley, J. Appl. Phys. 44 (1973) 534 (compliances from memory): the "180.5" in print."""
    c = np.linalg.inv(np.diag([s11 - s12] * 3 + [s44] * 3) + s12 * np.pad(np.ones((3, 3)), (0, 3)))
    stiffness = c * 1e3
    for normal, e1, modulus in (((0, 0, 1), (1, 0, 0), m001), ((1, 1, 1), (1, -1, 0), m111)):
        q = plane_stress_stiffness(stiffness, normal, e1)
        assert biaxial_modulus(q) == pytest.approx(modulus, abs=1e-6)


# Standard uncertainty of M [GPa] that follows from the table's u alone, propagated independently.
@pytest.mark.parametrize(
    ("name", "e1", "u"),
    [
        ("Ge(001)", "[110]", 2.3),
        ("Ge(111)", "[1-10]", 2.5),
        ("InP(001)", "[110]", 2.0),
        ("GaP(111)", "[1-10]", 1.2),
        ("3C-SiC(001)", "[110]", 12.0),
        ("diamond(111)", "[1-10]", 7.0),
        ("4H-SiC(0001)", "[11-20]", 11.0),
        ("GaN(0001)", "[11-20]", 34.0),
        ("sapphire(c)", "[11-20]", 4.4),
    ],
)
def test_uncertainty_of_the_modulus(name, e1, u):
    cut = find_cut(name)
    stiffness = stiffness_matrix(cut.system, cut.elastic_values())
    slopes = plane_stress_stiffness_derivatives(
        stiffness,
        stiffness_derivatives(cut.system, cut.elastic_values()),
        cut.normal,
        in_plane_direction(cut, e1).vector,
    )
    parts = [biaxial_response(slopes[k])[0] * row.u for k, row in cut.elastic.items()]
    assert np.linalg.norm(parts) / 1e9 == pytest.approx(u, rel=0.06)


@pytest.mark.parametrize(
    ("name", "modulus"),
    [
        ("fused silica", 87.0659),
        ("borosilicate glass", 80.0),
        ("aluminoborosilicate glass", 94.8052),
        ("soda-lime glass", 87.5),
        ("alumina", 540.962),
        ("stainless steel 304", 271.831),
        ("copper", 193.939),
        ("polyimide", 3.78788),
        ("PET", 7.90323),
    ],
)
def test_isotropic_substrates(name, modulus):
    """M = E/(1 - nu)."""
    assert biaxial_modulus(reduced(name, (1, 0, 0))) == pytest.approx(modulus, rel=3e-6)
