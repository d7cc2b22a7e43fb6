"""Steps found in scans, the parts they are read from, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmstress.errors import MeasurementRefused, RefusedInput
from filmstress.records.step import Reference, StepKind, SteppedScan
from filmstress.scans.step import find_steps
from tests.scans.step_scans import HEIGHT, LENGTH, NOISES, X, film, form, noise, scan_of

UM = 1e-6
INTERVAL = float(X[1] - X[0])


def found(z: np.ndarray, **options: object) -> SteppedScan:
    return find_steps(scan_of(X, z), **options)  # type: ignore[arg-type]


def check_heights(result: SteppedScan, height: float = HEIGHT) -> None:
    """Every height within 5 u: by t with 3 degrees of freedom once in 65 for each, at worst."""
    for step in result.steps:
        assert abs(step.thickness - height) < 5.0 * step.u + 1e-15
        assert step.u < 0.1 * height


@pytest.mark.parametrize("kind", [name for name in NOISES if name != "a wave"])
@pytest.mark.parametrize("flank", [0.0, 15 * UM])
def test_a_groove_is_found_and_read_by_type_a1(kind: str, flank: float) -> None:
    left, right = 400 * UM, 600 * UM
    z = film(left, right, flank=flank) + form(1e-6, 0.3e-6) + noise(4, kind)
    result = found(z)
    (step,) = result.steps
    assert (step.kind, step.full) == (StepKind.GROOVE, True)
    assert step.edges == pytest.approx((left, right), abs=2 * UM)
    check_heights(result)
    # ISO 5436-1, type A1 (from memory): a third next to each edge is left out, the window is
    # three widths, the middle third of the floor is used.
    w, middle = step.width, 0.5 * (step.edges[0] + step.edges[1])
    offsets = [((p.low - middle) / w, (p.high - middle) / w, p.on_film) for p in step.parts]
    expected = [(-1.5, -5 / 6, True), (-1 / 6, 1 / 6, False), (5 / 6, 1.5, True)]
    for one, other in zip(offsets, expected, strict=True):
        assert one == pytest.approx(other)


def test_a_stripe_of_film() -> None:
    result = found(film(420 * UM, 600 * UM, first=False) + noise(5))
    (step,) = result.steps
    assert step.kind is StepKind.STRIPE
    assert [part.on_film for part in step.parts] == [False, True, False]
    check_heights(result)


@pytest.mark.parametrize("first", [True, False])
def test_where_the_film_ends_once(first: bool) -> None:
    edge = 350 * UM
    result = found(film(edge, first=first) + form(2e-6, 0.2e-6) + noise(6))
    (step,) = result.steps
    assert (step.kind, step.full) == (StepKind.EDGE, False)
    assert step.width == pytest.approx(edge, abs=2 * INTERVAL)
    assert [part.on_film for part in step.parts] == [first, not first]
    check_heights(result)


def test_stripes_of_equal_width_are_all_read_levelled_on_what_is_there() -> None:
    edges = np.arange(100, 1000, 100) * UM
    result = found(film(*edges) + form(0.0, 0.3e-6) + noise(7))
    assert result.edges == pytest.approx(edges, abs=2 * INTERVAL)
    assert {step.kind for step in result.steps} == {StepKind.GROOVE}
    assert len(result.steps) == 4
    assert not any(step.full for step in result.steps)
    check_heights(result)
    for step in result.steps:
        for part in step.parts:
            # Nothing within a third of a stripe of any edge is used.
            nearest = min(abs(edges - 0.5 * (part.low + part.high)))
            assert nearest - 0.5 * (part.high - part.low) > 30 * UM


def test_narrow_grooves_are_no_dust() -> None:
    """Two grooves of 1 % of the scan each: found once nothing wider is."""
    result = found(film(300 * UM, 310 * UM, 700 * UM, 710 * UM) + noise(8, size_m=0.3e-9))
    assert [step.kind for step in result.steps] == [StepKind.GROOVE] * 2
    check_heights(result)


def test_dust_taller_than_the_film_is_no_step_and_moves_none() -> None:
    rng = np.random.default_rng(9)
    z = film(400 * UM, 600 * UM) + noise(9)
    for place in rng.uniform(0.0, LENGTH, 8):
        z = z + 3.0 * HEIGHT * np.exp(-(((X - place) / (2 * UM)) ** 2))
    result = found(z)
    (step,) = result.steps
    assert step.edges == pytest.approx((400 * UM, 600 * UM), abs=3 * UM)
    assert step.masked > 0
    check_heights(result)


@pytest.mark.parametrize("kind", list(NOISES))
@pytest.mark.parametrize("seed", range(4))
def test_noise_is_no_step(kind: str, seed: int) -> None:
    with pytest.raises(MeasurementRefused, match="no step can be told from the noise") as refused:
        found(form(1e-6, 1e-6) + noise(100 + seed, kind))
    assert refused.value.code == "no-step"
    assert "--edge" in refused.value.hint


def test_a_flat_of_one_height_is_no_step() -> None:
    with pytest.raises(MeasurementRefused, match="no step"):
        found(np.full(X.size, 3e-6))


def test_a_step_without_any_noise_is_read_exactly() -> None:
    result = found(film(400 * UM, 600 * UM))
    assert result.steps[0].thickness == pytest.approx(HEIGHT, rel=1e-9)


def test_a_staircase_is_refused() -> None:
    z = HEIGHT * ((X > 300 * UM).astype(float) + (X > 600 * UM)) + noise(10)
    with pytest.raises(MeasurementRefused, match="up twice"):
        found(z)
    # Stated by itself, the first of its edges can be read; the other side ends at the second.
    result = find_steps(scan_of(X[X < 580 * UM], z[X < 580 * UM]), edges=(300 * UM,))
    check_heights(result)


def test_stated_edges_are_taken_and_not_looked_for() -> None:
    z = film(400 * UM, 600 * UM, height=2e-9) + noise(11, size_m=0.5e-9)
    result = found(z, edges=(600 * UM, 400 * UM))
    assert result.stated
    assert result.edges == (400 * UM, 600 * UM)
    check_heights(result, 2e-9)


@pytest.mark.parametrize("first", [True, False])
@pytest.mark.parametrize("tilt", [-50e-6, 50e-6])
@pytest.mark.parametrize("edges", [(400 * UM,), (400 * UM, 600 * UM)])
def test_a_tilt_does_not_tell_which_way_a_stated_edge_goes(
    edges: tuple[float, ...], tilt: float, first: bool
) -> None:
    result = found(film(*edges, first=first) + form(tilt, 1e-6) + noise(16), edges=edges)
    assert result.steps[0].parts[0].on_film == first
    check_heights(result)


@pytest.mark.parametrize(
    ("edges", "told"),
    [
        ((-1e-6,), "outside the scan"),
        ((2e-3,), "outside the scan"),
        ((1 * UM, 999 * UM), "too little"),
        ((0.3 * UM,), "too little|cannot carry|fill"),
    ],
)
def test_stated_edges_that_cannot_be_used(edges: tuple[float, ...], told: str) -> None:
    with pytest.raises(RefusedInput, match=told) as refused:
        found(film(400 * UM, 600 * UM) + noise(12), edges=edges)
    assert refused.value.where


def test_reference_says_which_level_is_the_substrate() -> None:
    z = film(400 * UM) + noise(13)
    assert found(z).steps[0].thickness == pytest.approx(HEIGHT, rel=0.05)
    assert found(z, reference=Reference.RIGHT).steps[0].parts[0].on_film
    with pytest.raises(MeasurementRefused, match="below its substrate"):
        found(z, reference=Reference.LEFT)
    turned = found(-z, reference=Reference.LEFT)
    assert not turned.steps[0].parts[0].on_film
    assert turned.steps[0].thickness == pytest.approx(HEIGHT, rel=0.05)
    # Of numbers that grow into the surface, the substrate is the higher level.
    sunk, plain = found(-z, reference=Reference.HIGH), found(z)
    assert sunk.steps[0].parts == plain.steps[0].parts
    assert sunk.steps[0].thickness == pytest.approx(plain.steps[0].thickness, rel=1e-12)


def test_straight_line_or_parabola() -> None:
    bow = 0.5e-6
    z = film(400 * UM, 600 * UM) + form(0.0, bow) + noise(14, size_m=0.1e-9)
    curved, straight = (found(z, straight=one).steps[0] for one in (False, True))
    # 4 bow t^2 about the middle: of the parts the mean of t^2 less that of the floor, times 4 bow.
    t = (X - 500 * UM) / LENGTH
    outer = (np.abs(t) >= 5 / 30) & (np.abs(t) <= 0.3)
    bias = 4.0 * bow * float(np.mean(t[outer] ** 2) - np.mean(t[np.abs(t) <= 1 / 30] ** 2))
    assert straight.thickness - HEIGHT == pytest.approx(bias, rel=0.02)
    assert curved.thickness == pytest.approx(HEIGHT, rel=0.01)
    assert straight.other_thickness == pytest.approx(curved.thickness, rel=1e-9)
    assert curved.bow == pytest.approx(bow * 0.36, rel=0.02)
    assert straight.bow == 0.0


def test_levelled_heights_lie_on_both_levels() -> None:
    z = film(400 * UM, 600 * UM) + form(3e-6, 0.5e-6) + noise(15, size_m=0.1e-9)
    step = found(z).steps[0]
    level = step.levelled(X, z)
    assert level[np.abs(X - 500 * UM) < 90 * UM] == pytest.approx(0.0, abs=2e-9)
    near = (np.abs(X - 500 * UM) > 110 * UM) & (np.abs(X - 500 * UM) < 300 * UM)
    assert level[near] == pytest.approx(HEIGHT, abs=2e-9)


@settings(max_examples=15)
@given(
    seed=st.integers(0, 1000),
    tilt=st.floats(-5e-6, 5e-6),
    offset=st.floats(-1e-3, 1e-3),
    scale=st.floats(0.01, 100.0),
    start=st.floats(-0.1, 0.1),
)
def test_place_and_size_do_not_matter(
    seed: int, tilt: float, offset: float, scale: float, start: float
) -> None:
    z = film(380 * UM, 560 * UM) + noise(seed)
    step = found(z).steps[0]
    moved = find_steps(scan_of(X + start, scale * (z + form(tilt) + offset))).steps[0]
    assert moved.thickness == pytest.approx(scale * step.thickness, rel=1e-6)
    assert moved.u == pytest.approx(scale * step.u, rel=1e-3)
    mirrored = find_steps(scan_of(LENGTH - X[::-1], scale * z[::-1])).steps[0]
    # An edge may fall to the other neighbour of its middle, and a part then gain a point.
    assert mirrored.thickness == pytest.approx(scale * step.thickness, abs=0.5 * scale * step.u)


def test_few_points_do() -> None:
    """The constructed groove of the standard's rule, 91 points, found without being told where."""
    x = np.arange(-45.0, 46.0) * UM
    z = (0.02 * x / UM + np.where(np.abs(x) > 15 * UM, 1.0, 0.5)) * 1e-9
    step = find_steps(scan_of(x, z)).steps[0]
    assert step.thickness == pytest.approx(0.5e-9, rel=1e-9)
    assert step.width == pytest.approx(31 * UM)


@pytest.mark.parametrize("points", [10, 12, 20, 40])
def test_hardly_any_points_are_refused_or_read(points: int) -> None:
    x = np.linspace(0.0, LENGTH, points)
    z = np.where(x > 0.5 * LENGTH, HEIGHT, 0.0)
    try:
        step = find_steps(scan_of(x, z)).steps[0]
    except RefusedInput:
        return
    assert step.thickness == pytest.approx(HEIGHT, rel=1e-9)
