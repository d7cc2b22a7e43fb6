"""Stacks whose scans are drawn from known layers: each truth lies in its interval."""

from __future__ import annotations

from dataclasses import replace

import pytest

from filmstress.records.quantity import Estimate
from filmstress.records.scan import Scan
from filmstress.records.stack import Known
from filmstress.simulate.demo_stack import BASE
from filmstress.simulate.pair import Trace
from filmstress.simulate.stack import TrueLayer, bending_force, simulate_states
from tests.stacks._stacks import found, state

H = 675e-6
HEAD = """\
[substrate]
material = "Si(001)"
thickness = "675 um ± 1 um"
diameter = "150 mm"
[scan]
support = "rim"
bow_repeatability = "15 nm"
offset_repeatability = "150 um"
position_scale_uncertainty = "0.05 %"
height_scale_uncertainty = "0.1 %"
"""
OXIDE = TrueLayer(-300e6, 500e-9, 0.5)
NITRIDE = TrueLayer(700e6, 150e-9, 1.2, -1)
MORE = 'thickness = "500 nm ± 1 %", modulus = "90 GPa ± 5 GPa"'
BACK = 'thickness = "150 nm ± 1 %", modulus = "216 GPa ± 10 GPa", face = "down"'


def scans(*forces: float, seed: int = 1) -> dict[str, Scan]:
    base = replace(BASE, substrate_thickness_m=H, seed=seed, points=601)
    traces = simulate_states(base, forces)
    return {f"{number}.csv": named(trace, number) for number, trace in enumerate(traces)}


def named(trace: Trace, name: object) -> Scan:
    """A drawn scan as if it came from a file of its own."""
    source = replace(trace.scan.source, path=f"{name}.csv", sha256=str(name))
    return replace(trace.scan, source=source)


def scanned(number: int) -> str:
    return f'scans = [{{ azimuth = "0 deg", file = "{number}.csv" }}]\n'


def holds(estimate: Estimate | None, truth: float, k: float = 3.5) -> bool:
    """Within 3.5 standard uncertainties: a correct program fails 1 in 2000."""
    assert estimate is not None
    assert estimate.u is not None
    return abs(estimate.value - truth) < k * estimate.u


def bent(*layers: TrueLayer) -> list[float]:
    """What bends the wafer after each of some layers [N/m], as if none changed the others."""
    forces = [0.0]
    for number in range(len(layers)):
        there = layers[: number + 1]
        forces.append(forces[-1] + bending_force(there, number, substrate_thickness_m=H))
    return forces


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_each_layer_its_own_stress_on_either_face(seed: int) -> None:
    forces = bent(OXIDE, NITRIDE)
    stripped = forces[-1] - bending_force([OXIDE, NITRIDE], 0, substrate_thickness_m=H)
    result = found(
        state("bare", scanned(0))
        + state("oxide", scanned(1) + f"layer = {{ {MORE} }}")
        + state("nitride", scanned(2) + f"layer = {{ {BACK} }}")
        + state("strip", scanned(3) + 'strips = "oxide"'),
        HEAD,
        scans(*forces, stripped, seed=seed),
    )
    _, oxide, nitride, strip = result.states
    assert not result.refused
    assert [one.known for one in result.states[1:]] == [Known.MEASURED] * 3
    assert holds(oxide.stress, -300e6)
    assert holds(oxide.force, -150.0)
    assert holds(nitride.stress, 700e6)
    assert holds(nitride.force, -105.0)
    assert holds(nitride.total, -255.0)
    assert holds(strip.stress, -300e6)
    assert holds(strip.force, 150.0)
    assert holds(strip.total, -105.0)
    # What was to be expected of the strip lies beside what was measured.
    assert strip.bow_predicted is not None
    assert strip.bow is not None
    assert holds(strip.bow_predicted, strip.bow.value)
    # Tensile behind is a dome, and stripping a compressive front film takes a dome away.
    assert result.states[0].bow is not None
    assert nitride.bow is not None
    assert nitride.bow.value < 0.0 < strip.bow.value - nitride.bow.value


def test_the_sum_of_forces_is_surer_than_its_steps() -> None:
    # Four scans: the noise of those in the middle drops out of the sum.
    forces = bent(OXIDE, replace(OXIDE, stress_pa=200e6), OXIDE)
    body = state("bare", scanned(0))
    for number in (1, 2, 3):
        body += state(f"film {number}", scanned(number) + f"layer = {{ {MORE} }}")
    exact = HEAD.replace("± 1 um", "(exact)")
    last = found(body, exact, scans(*forces)).states[-1]
    assert holds(last.total, -200.0)
    steps = [one.force for one in found(body, exact, scans(*forces)).states[1:]]
    assert last.total is not None
    assert last.total.u is not None
    assert last.total.value == pytest.approx(sum(one.value for one in steps if one), abs=0.3)


def test_annealing_changes_the_one_layer_there_is() -> None:
    forces = [*bent(OXIDE), bent(replace(OXIDE, stress_pa=-250e6))[-1]]
    result = found(
        state("bare", scanned(0))
        + state("oxide", scanned(1) + f"layer = {{ {MORE} }}")
        + state("anneal", scanned(2))
        + state("strip", 'strips = "oxide"'),
        HEAD,
        scans(*forces),
    )
    anneal, strip = result.states[2:]
    assert anneal.layer is not None
    assert anneal.layer.name == "oxide"
    assert holds(anneal.stress, 50e6)
    assert holds(anneal.total, -125.0)
    # The strip then takes what the annealed layer carries.
    assert holds(strip.stress, -250e6)
    assert holds(strip.total, 0.0)
    assert strip.bow_known is Known.PREDICTED
    assert holds(strip.bow, BASE.bare_bow_m)


def test_a_layer_that_only_its_strip_has_measured() -> None:
    forces = bent(OXIDE)
    result = found(
        state("bare")
        + state("oxide", scanned(0) + f"layer = {{ {MORE} }}")
        + state("strip", scanned(1) + 'strips = "oxide"'),
        HEAD,
        scans(forces[1], 0.0),
    )
    oxide = result.states[1]
    assert oxide.known is Known.MEASURED
    assert holds(oxide.stress, -300e6)
    assert holds(result.states[2].total, 0.0)


def test_two_azimuths_are_laid_on_their_own() -> None:
    base = replace(BASE, substrate_thickness_m=H, points=601)
    drawn = {}
    for degrees, angle in ((0, 0.0), (90, 1.5707963267948966)):
        for number, trace in enumerate(simulate_states(base, bent(OXIDE), azimuth_rad=angle)):
            drawn[f"{number}-{degrees}.csv"] = named(trace, f"{number}-{degrees}")

    def both(number: int, *azimuths: int) -> str:
        told = ", ".join(f'{{ azimuth = "{a} deg", file = "{number}-{a}.csv" }}' for a in azimuths)
        return f"scans = [{told}]\n"

    result = found(
        state("bare", both(0, 0, 90)) + state("oxide", both(1, 90, 0) + f"layer = {{ {MORE} }}"),
        HEAD,
        drawn,
    )
    measured = result.states[1].measured
    assert holds(result.states[1].stress, -300e6)
    assert measured is not None
    assert len(measured.stress_by_direction) == 2


def test_a_first_scan_that_is_refused_is_not_taken_as_flat() -> None:
    clamped = scanned(0).replace("file", 'support = "clamped", file')
    result = found(
        state("bare", clamped) + state("oxide", scanned(1) + f"layer = {{ {MORE} }}"),
        HEAD,
        scans(*bent(OXIDE)),
    )
    assert result.refused
    assert [one.bow for one in result.states] == [None, None]


def test_a_clamped_wafer_tells_no_bow_and_no_stress() -> None:
    forces = bent(OXIDE, NITRIDE)
    clamped = scanned(1).replace("file", 'support = "clamped", file')
    result = found(
        state("bare", scanned(0))
        + state("oxide", clamped + f"layer = {{ {MORE} }}")
        + state("nitride", scanned(2) + f"layer = {{ {BACK} }}"),
        HEAD,
        scans(*forces),
    )
    _, oxide, nitride = result.states
    assert result.refused
    assert (oxide.stress, oxide.force, oxide.bow) == (None, None, None)
    assert nitride.stress is None
    # What both layers do together lies between two good scans.
    assert holds(nitride.total, -255.0)
    assert any("oxide: the wafer was clamped" in one.message for one in result.warnings)
