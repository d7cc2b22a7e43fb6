"""What is exported reads back to the last bit, here and in another program (x3pio)."""

from __future__ import annotations

import io
import os
import tempfile
import time
import zipfile
from pathlib import Path

import numpy as np
import x3pio
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from filmstress.records.scan import Scan, ScanSource
from filmstress.scans.reading.scan_file import read_scan
from filmstress.scans.writing import csv_bytes, x3p_bytes

SOURCE = ScanSource("-", "", "m", "m", "x", "z", 0)


def scan_of(x: np.ndarray, z: np.ndarray) -> Scan:
    return Scan(np.asarray(x, np.float64), np.asarray(z, np.float64), SOURCE)


def read_bytes(content: bytes) -> Scan:
    handle, name = tempfile.mkstemp()
    try:
        os.write(handle, content)
        os.close(handle)
        return read_scan(name)
    finally:
        Path(name).unlink()


@st.composite
def scans(draw: st.DrawFn) -> Scan:
    """Any scan that a file could have given: even or not, from anywhere, of any heights."""
    count = draw(st.integers(10, 60))
    if draw(st.booleans()):
        x = draw(st.floats(-0.3, 0.3)) + np.arange(count) * draw(st.floats(2e-4, 5e-3))
    else:
        steps = draw(arrays.arrays(np.float64, count, elements=st.floats(2e-4, 5e-3)))
        x = draw(st.floats(-0.3, 0.3)) + np.cumsum(steps)
    heights = st.floats(-9e-3, 9e-3, allow_subnormal=True)
    return scan_of(x, draw(arrays.arrays(np.float64, count, elements=heights)))


@given(scans())
def test_round_trips_are_exact(scan: Scan):
    for content in (csv_bytes(scan), x3p_bytes(scan)):
        back = read_bytes(content)
        assert np.array_equal(back.x, scan.x)
        assert np.array_equal(back.z, scan.z)
        assert np.array_equal(np.signbit(back.z), np.signbit(scan.z))
        assert back.source.left_out == back.source.notes == ()


@given(scans())
def test_another_program_reads_the_same(scan: Scan):
    file = x3pio.read(io.BytesIO(x3p_bytes(scan)))
    (layer,) = file.layers
    start = 0.0 if file.placement is None else file.placement.offset[0]
    assert isinstance(file, x3pio.Profile)
    assert np.array_equal(layer.z, scan.z)
    x = layer.x_values if layer.header.x.is_incremental else layer.x
    assert np.array_equal(x + start, scan.x)


def test_even_positions_are_written_as_a_step():
    z = np.zeros(1000)
    uneven = len(x3p_bytes(scan_of(0.25 + np.arange(1000) ** 1.01 * 1e-4, z)))
    for start in (0.0, 0.25, -0.06):
        for step in (1e-4, 8.5e-5, 0.1 / 999):
            even = len(x3p_bytes(scan_of(start + np.arange(1000) * step, z)))
            # What the steps of a third have lost to the start cannot always be found again.
            assert uneven - even > 7900 or (start and step == 0.1 / 999)


def test_the_same_scan_makes_the_same_bytes(monkeypatch):
    scan = scan_of(np.arange(20) * 1e-3, np.zeros(20))
    first = x3p_bytes(scan)
    monkeypatch.setattr(time, "time", lambda: 2e9)
    monkeypatch.setenv("TZ", "Pacific/Apia")
    assert x3p_bytes(scan) == first
    with zipfile.ZipFile(io.BytesIO(first)) as archive:
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_a_table_says_its_units():
    assert csv_bytes(scan_of([0.0, 0.1 + 0.2], [1e-7, -0.0])) == (
        b"x [m],z [m]\n0.0,1e-07\n0.30000000000000004,-0.0\n"
    )
