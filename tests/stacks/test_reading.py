"""Faults of a stack file: all at once, each with its place and what was meant."""

from __future__ import annotations

import pytest

from filmstress.errors import FilmstressError
from tests.stacks._stacks import HEAD, layer, spec, state

FILM = layer("-300 MPa ± 5 MPa", "500 nm ± 1 %")


def faults(body: str, head: str = HEAD) -> str:
    with pytest.raises(FilmstressError) as caught:
        spec(body, head)
    return str(caught.value)


def test_everything_wrong_is_told_at_once() -> None:
    told = faults(
        state("bare")
        + state("oxide", 'layer = { thicknes = "500 nm", stres = "1 MPa", face = "left" }')
        + state("strip", 'strips = "oxyde"')
        + '[balance]\ntarget = "0 um"\nlayer = { stress = "3 nm" }\n'
    )
    for part in (
        "state oxide, layer: unknown key 'thicknes'\n  did you mean 'thickness'?",
        "unknown key 'stres'\n  did you mean 'stress'?",
        "state oxide, layer.face: 'left' came",
        "state strip, strips: no layer of the name 'oxyde'",
        "did you mean 'oxide'?",
        "balance: unknown key 'target'\n  did you mean 'target_bow'?",
        "balance, layer.stress: ",
    ):
        assert part in told
    # What was only mistyped is not told as missing as well.
    assert "not stated" not in told


@pytest.mark.parametrize(
    ("body", "wanted"),
    [
        ("", "no states are named"),
        (state("bare", FILM), "the first state is the wafer as it came"),
        (state("bare") + state("bare", FILM), "two states are called 'bare'"),
        (state("bare") + state("anneal"), "nothing is known of what this step did"),
        (
            state("bare") + state("a", layer("", "500 nm ± 1 %")),
            "neither measured nor stated",
        ),
        (
            state("bare") + state("a", 'layer = { stress = "3 MPa ± 1 MPa" }'),
            "the layer's thickness is not stated",
        ),
        (state("bare") + state("a", FILM + '\nstrips = "a"'), "two things happen in one state"),
        (
            state("bare", 'scans = [{ file = "0.csv" }]') + state("a", FILM),
            "only state that is scanned",
        ),
        (
            state("bare", 'scans = [{ azimuth = "0 deg", file = "0.csv" }]')
            + state("a", FILM + '\nscans = [{ azimuth = "90 deg", file = "1.csv" }]'),
            "the line at 0 deg is scanned in state 'bare', and not in this one",
        ),
        (
            state("bare") + state("a", FILM + '\nscans = [{ fil = "1.csv" }]'),
            "did you mean 'file'?",
        ),
        (
            state("bare")
            + state("a", layer("3 MPa ± 1 MPa", "1 um", more=', expansion = "1 ppm/K"')),
            "needs its deposited_at too",
        ),
        (
            state("bare") + state("a", FILM) + '[balance]\nlayer = { thickness = "3 nm" }\n',
            "the thickness of this layer is what is looked for",
        ),
        (state("bare") + state("a", FILM) + "[balance]\n", "is not stated"),
    ],
)
def test_each_fault_in_its_words(body: str, wanted: str) -> None:
    assert wanted in faults(body)


def test_keys_of_pairs_and_a_missing_length() -> None:
    head = HEAD.replace('length = "120 mm"', 'pre_support = "rim"\nreference = "stripped"')
    told = faults(state("bare") + state("a", FILM), head)
    assert "'pre_support' speaks of a pair of scans" in told
    assert "'reference' speaks of a pair of scans" in told
    assert 'write  length = "120 mm"' in told


def test_expansion_of_another_substrate_must_be_stated() -> None:
    head = HEAD.replace("Si(001)", "sapphire(c)")
    more = ', modulus = "90 GPa", expansion = "1 ppm/K", deposited_at = "400 degC"'
    body = state("bare") + state("a", layer("3 MPa ± 1 MPa", "1 um", more=more))
    assert "state a, layer: the thermal part needs the substrate's expansion" in faults(body, head)
    stated = head.replace("[scan]", 'expansion = "5 ppm/K ± 0.2 ppm/K"\n[scan]')
    assert spec(body, stated).substrate_expansion is not None


def test_defaults_are_told_with_the_layer_that_they_are_of() -> None:
    notes = spec(state("bare") + state("oxide", layer("-300 MPa", "500 nm"))).notes
    assert "oxide: film thickness: no uncertainty stated, default ± 5 % (limits)" in notes
    assert "oxide: layer stress: no uncertainty stated, default ± 5 %" in notes
