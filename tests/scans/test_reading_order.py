"""Positions that run backwards, step back, repeat or start anew."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import ScanError
from filmstress.records.scan import LeftOut
from filmstress.scans.reading.order import Ordered, TurnsBack, put_in_order
from filmstress.scans.reading.scan_file import read_scan

X = np.arange(100.0)
Z = np.sin(X)


def write(tmp_path, x, z):
    path = tmp_path / "scan.csv"
    rows = "".join(f"{a!r},{b!r}\n" for a, b in zip(x.tolist(), z.tolist(), strict=True))
    path.write_text("x [mm],z [um]\n" + rows)
    return path


def test_reversed_scan_is_turned_round(tmp_path):
    scan = read_scan(write(tmp_path, X[::-1], Z[::-1]))
    np.testing.assert_array_equal(scan.x, X * 1e-3)
    np.testing.assert_array_equal(scan.z, Z * 1e-6)
    assert scan.source.notes == ("positions ran backwards: rows put in order",)
    assert scan.source.left_out == ()


def test_steps_back_are_sorted(tmp_path):
    x, z = X.copy(), Z.copy()
    for i in (10, 50):
        x[[i, i + 1]], z[[i, i + 1]] = x[[i + 1, i]], z[[i + 1, i]]
    scan = read_scan(write(tmp_path, x, z))
    np.testing.assert_array_equal(scan.x, X * 1e-3)
    np.testing.assert_array_equal(scan.z, Z * 1e-6)
    assert scan.source.notes == ("2 rows stepped back: rows put in order of position",)


@pytest.mark.parametrize("backwards", [False, True])
def test_equal_positions_are_averaged_and_counted(tmp_path, backwards):
    x = np.concatenate((X[:5], [4.0, 4.0], X[5:], [99.0]))
    z = np.concatenate(([0.0] * 4, [1.0, 2.0, 6.0], [0.0] * 94, [1.0, 2.0]))
    if backwards:
        x, z = x[::-1], z[::-1]
    scan = read_scan(write(tmp_path, x, z))
    np.testing.assert_array_equal(scan.x, X * 1e-3)
    expected = np.zeros(100)
    expected[4], expected[99] = 3.0, 1.5
    np.testing.assert_allclose(scan.z, expected * 1e-6, rtol=1e-15)
    # Lines count from 1 and the header is the first: the second row at a position repeats it.
    first = 3 if backwards else 7
    reason = "same position as another row; their heights were averaged"
    assert scan.source.left_out == (LeftOut(reason, 3, first),)
    assert scan.source.rows == 103


@pytest.mark.parametrize("seed", range(5))
def test_positions_in_no_order_are_refused_at_a_line(tmp_path, seed):
    x = np.random.default_rng(seed).permutation(X)
    with pytest.raises(ScanError, match="positions turn back here by") as caught:
        read_scan(write(tmp_path, x, np.zeros_like(x)))
    assert "--columns 1,3" in caught.value.hint
    assert caught.value.line is not None


jitter = st.lists(st.floats(-3.0, 3.0), min_size=100, max_size=100)


@given(jitter, st.booleans(), st.integers(1, 3))
def test_order_keeps_every_point(steps, backwards, decimals):
    """Rounded jittering positions: each group's mean height, checked against a dictionary."""
    x = np.round(X + np.array(steps), decimals)
    x = x[::-1] if backwards else x
    groups: dict[float, list[float]] = {}
    for position, height in zip(x.tolist(), Z.tolist(), strict=True):
        groups.setdefault(position, []).append(height)
    ordered = put_in_order(x, Z)
    assert isinstance(ordered, Ordered)
    assert ordered.x.tolist() == sorted(groups)
    means = [np.mean(groups[position]) for position in sorted(groups)]
    np.testing.assert_allclose(ordered.z, means, rtol=1e-12, atol=1e-15)
    assert ordered.merged == len(x) - len(groups)
    if ordered.merged:
        seen = x.tolist()
        repeats = [i for i, position in enumerate(seen) if position in seen[:i]]
        assert ordered.first_merged == repeats[0]


@given(st.integers(20, 99), st.integers(15, 99))
def test_a_new_start_is_never_sorted_in(length, back):
    x = np.concatenate((X[:length], length - 1 - back + X[:40]))
    ordered = put_in_order(x, np.zeros_like(x))
    assert isinstance(ordered, TurnsBack)
    assert ordered.index == length
