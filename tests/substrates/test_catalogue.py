"""From what is written on the wafer box to a surface normal."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from filmstress.errors import SubstrateError
from filmstress.substrates.catalogue import (
    default_reference,
    find_cut,
    in_plane_direction,
    tilted,
)
from filmstress.substrates.materials import MATERIALS, find_material

HALF, ROOT3 = math.sqrt(0.5), math.sqrt(3.0)


@pytest.mark.parametrize(
    ("text", "label", "normal"),
    [
        ("Si(001)", "Si(001)", (0, 0, 1)),
        ("silicon (0 0 1)", "Si(001)", (0, 0, 1)),
        ("SI(1-10)", "Si(1-10)", (HALF, -HALF, 0)),
        ("Si(1 -1 0)", "Si(1-10)", (HALF, -HALF, 0)),
        ("Si(1, −1, 0)", "Si(1-10)", (HALF, -HALF, 0)),
        ("Si(002)", "Si(001)", (0, 0, 1)),
        ("gallium arsenide(111)", "GaAs(111)", (1 / ROOT3, 1 / ROOT3, 1 / ROOT3)),
        ("Si[McSkimin 1964](111)", "Si[McSkimin 1964](111)", (1 / ROOT3,) * 3),
        ("si[mcskimin  1964](001)", "Si[McSkimin 1964](001)", (0, 0, 1)),
        ("Si[Mason 1958](001)", "Si(001)", (0, 0, 1)),
        ("4H-SiC(0001)", "4H-SiC(0001)", (0, 0, 1)),
        ("4h sic(0001)", "4H-SiC(0001)", (0, 0, 1)),
        ("sapphire(c)", "sapphire(c)", (0, 0, 1)),
        ("Al2O3(C-plane)", "sapphire(c)", (0, 0, 1)),
        ("sapphire(a)", "sapphire(a)", (0.5, ROOT3 / 2, 0)),
        ("sapphire(11-20)", "sapphire(11-20)", (0.5, ROOT3 / 2, 0)),
        ("sapphire(m)", "sapphire(m)", (ROOT3 / 2, 0.5, 0)),
        ("quartz(Z)", "quartz(Z)", (0, 0, 1)),
        ("quartz(X-cut)", "quartz(X)", (1, 0, 0)),
        ("LiNbO3(y)", "LiNbO3(Y)", (0, 1, 0)),
        ("lithium tantalate(0Y)", "LiTaO3(0Y)", (0, 1, 0)),
        ("fused silica", "fused silica", (0, 0, 1)),
        ("Fused-Silica", "fused silica", (0, 0, 1)),
    ],
)
def test_names(text, label, normal):
    cut = find_cut(text)
    assert cut.label == label
    np.testing.assert_allclose(cut.normal, normal, atol=1e-12)


@pytest.mark.parametrize(
    ("text", "angle_deg"),
    [
        # The trade's rotated-Y cuts turn about X from Y towards Z (IRE standard of 1949).
        ("quartz(AT)", 35.25),
        ("quartz(42.75Y)", 42.75),
        ("quartz(ST)", 42.75),
        ("LiNbO3(128Y)", 127.86),
        ("LiNbO3(128° Y-cut)", 127.86),
        ("LiNbO3(64Y)", 64.0),
        ("LiTaO3(42Y)", 42.0),
        ("LiTaO3(36 Y)", 36.0),
    ],
)
def test_rotated_y_cuts(text, angle_deg):
    turn = math.radians(angle_deg)
    np.testing.assert_allclose(
        find_cut(text).normal, (0.0, math.cos(turn), math.sin(turn)), atol=1e-12
    )


def angle_deg(a, b):
    return math.degrees(math.acos(min(1.0, abs(float(np.dot(a, b))))))


def test_128_y_is_the_104_plane():
    """The trade's 128 deg lithium niobate is the (10-14) plane, at 127.86 deg (from memory)."""
    turned = find_cut("LiNbO3(10-14)").normal
    # A threefold turn about Z brings a plane onto its equal.
    c, s = -0.5, ROOT3 / 2
    turns = [np.array([[c, -k * s, 0], [k * s, c, 0], [0, 0, 1]]) for k in (-1, 1)]
    angles = [angle_deg(turn @ turned, find_cut("LiNbO3(128Y)").normal) for turn in turns]
    assert min(angles) < 0.05


def test_r_plane_of_sapphire():
    """57.6 deg from c (handbooks), and (1-102) = (01-12) = (-1012) by the threefold axis."""
    c_axis = np.array([0.0, 0.0, 1.0])
    assert angle_deg(find_cut("sapphire(r)").normal, c_axis) == pytest.approx(57.61, abs=0.01)
    obverse = find_cut("sapphire(01-12)").normal
    assert obverse[0] == pytest.approx(0.0, abs=1e-12)
    assert obverse[1] > 0.0
    c, s = -0.5, ROOT3 / 2
    third = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
    np.testing.assert_allclose(third @ find_cut("sapphire(r)").normal, obverse, atol=1e-12)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Si", "plane is missing.*'Si\\(001\\)' or 'Si\\(111\\)'"),
        ("sapphire", "plane is missing.*sapphire\\(c\\)"),
        ("Silicone(001)", "not in the substrate table.*did you mean 'Si'"),
        ("saphire(c)", "did you mean 'sapphire'"),
        ("unobtanium", "not in the substrate table.*youngs_modulus"),
        ("SiC(0001)", "different stiffness.*4H-SiC, 6H-SiC, 3C-SiC"),
        ("SiO2", "different stiffness.*quartz, fused silica"),
        ("Si[Nobody 1900](001)", "no data set.*Si\\[Hall 1967\\]"),
        ("copper[Nobody 1900]", "no data set.*'copper' without brackets"),
        ("fused silica(001)", "has no crystal planes"),
        ("Si(000)", "names no plane"),
        ("Si(0001)", "has 4 indices"),
        ("LiNbO3(128)", "has 3 indices.*four.*\\(12-38\\) if that"),
        ("4H-SiC(1120)", "minus the sum of the first two.*11-20"),
        ("Si(flat)", "no plane of Si.*any \\(hkl\\)"),
        ("quartz(BTX)", "no plane of quartz.*quartz\\(AT\\)"),
        ("Si(128Y)", "no plane of Si"),
        ("Si<100>", "cannot be read.*write 'Si\\(100\\)'"),
        ("Si(100", "cannot be read"),
        ("", "cannot be read"),
    ],
)
def test_refusals_say_how_to_write_it(text, words):
    with pytest.raises(SubstrateError, match=f"(?s){words}"):
        find_cut(text)


@pytest.mark.parametrize("material", MATERIALS, ids=lambda m: m.key)
def test_every_hint_and_alias_can_be_written(material):
    for cut in material.cuts:
        assert find_cut(f"{material.key}({cut})").material is material
    for name in (material.title, *material.aliases):
        assert find_material(name.upper()) is material


@pytest.mark.parametrize(
    ("cut", "text", "label", "vector"),
    [
        ("Si(001)", "[110]", "[110]", (HALF, HALF, 0)),
        ("Si(001)", "[1 -1 0]", "[1-10]", (HALF, -HALF, 0)),
        ("Si(001)", "110", "[110]", (HALF, HALF, 0)),
        ("4H-SiC(0001)", "[2-1-10]", "[2-1-10]", (1, 0, 0)),
        ("4H-SiC(0001)", "[11-20]", "[11-20]", (0.5, ROOT3 / 2, 0)),
        ("4H-SiC(0001)", "[10-10]", "[10-10]", (ROOT3 / 2, 0.5, 0)),
        ("4H-SiC(0001)", "Y", "Y", (0, 1, 0)),
        ("4H-SiC(11-20)", "[0001]", "[0001]", (0, 0, 1)),
        ("quartz(AT)", "X", "X", (1, 0, 0)),
        ("quartz(AT)", "-x", "-X", (-1, 0, 0)),
        (
            "quartz(AT)",
            "Z'",
            "Z'",
            (0, -math.sin(math.radians(35.25)), math.cos(math.radians(35.25))),
        ),
    ],
)
def test_in_plane_directions(cut, text, label, vector):
    direction = in_plane_direction(find_cut(cut), text)
    assert direction.label == label
    np.testing.assert_allclose(direction.vector, vector, atol=1e-12)


@pytest.mark.parametrize(
    ("cut", "text", "words"),
    [
        ("Si(100)", "[110]", "45.0 deg out of it.*for example \\[011\\]"),
        ("Si(111)", "[110]", "54.7 deg out of it.*for example \\[10-1\\]"),
        ("sapphire(r)", "Z", "32.4 deg out of it"),
        ("quartz(AT)", "Z", "35.* deg out of it.*for example X"),
        ("quartz(Z)", "Z'", "is the surface normal"),
        ("4H-SiC(0001)", "[110]", "written with 4.*\\[11-20\\]"),
        ("4H-SiC(0001)", "[1120]", "did you mean 11-20"),
        ("Si(001)", "[11-20]", "written with 3"),
        ("Si(001)", "[000]", "names no direction"),
        ("Si(001)", "north", "cannot be read as a crystal direction"),
        ("Si(001)", "X", "cannot be read as a crystal direction"),
        ("quartz(AT)", "Y'", "cannot be read as a crystal direction"),
        ("fused silica", "[110]", "has no crystal directions"),
    ],
)
def test_refused_directions(cut, text, words):
    with pytest.raises(SubstrateError, match=f"(?s){words}"):
        in_plane_direction(find_cut(cut), text)


INDEX = st.integers(-6, 6)


@given(h=INDEX, k=INDEX, last=INDEX, material=st.sampled_from(["Si", "4H-SiC", "sapphire"]))
def test_default_reference_lies_in_the_plane(h, k, last, material):
    assume(any((h, k, last)))
    third = "" if material == "Si" else f" {-(h + k)}"
    cut = find_cut(f"{material}({h} {k}{third} {last})")
    reference = default_reference(cut)
    assert math.hypot(*cut.normal) == pytest.approx(1.0, abs=1e-12)
    assert np.dot(cut.normal, reference.vector) == pytest.approx(0.0, abs=1e-12)
    # And it can be written down and read again.
    again = in_plane_direction(cut, reference.label)
    np.testing.assert_allclose(again.vector, reference.vector, atol=1e-12)
    assert find_cut(cut.label).normal == cut.normal


@pytest.mark.parametrize("material", MATERIALS, ids=lambda m: m.key)
def test_every_common_cut_has_a_reference(material):
    for name in material.cuts:
        cut = find_cut(f"{material.key}({name})")
        reference = default_reference(cut)
        assert np.dot(cut.normal, reference.vector) == pytest.approx(0.0, abs=1e-9)
        in_plane_direction(cut, reference.label)


def test_reference_of_the_common_silicon_wafers():
    # Flats and notches of (001) and (111) wafers lie across <110> (SEMI M1).
    assert default_reference(find_cut("Si(001)")).label == "[110]"
    assert default_reference(find_cut("Si(111)")).label == "[1-10]"


def test_miscut_turns_the_normal_towards_the_direction():
    cut = find_cut("4H-SiC(0001)")
    toward = in_plane_direction(cut, "[11-20]")
    off = tilted(cut, miscut_rad=math.radians(4.0), toward=toward)
    assert np.dot(off.normal, cut.normal) == pytest.approx(math.cos(math.radians(4.0)), abs=1e-12)
    assert np.dot(off.normal, toward.vector) == pytest.approx(
        math.sin(math.radians(4.0)), abs=1e-12
    )
    assert off.plane_normal == cut.plane_normal
    # The reference remains a direction of the named plane; read, it lies in the tilted surface's
    # nominal plane and the elasticity projects it.
    assert in_plane_direction(off, "[11-20]") == toward
    assert "4 deg off towards [11-20]" in off.label
    assert tilted(cut, miscut_rad=0.0, toward=toward) is cut
