"""Properties: whatever stands in an X3P or SDF file, a scan or a ScanError comes out of it."""

from __future__ import annotations

import io
import zipfile

from hypothesis import given
from hypothesis import strategies as st

from filmstress.records.scan import ReadingOptions
from tests.scans._x3p import XML, md5_of
from tests.scans.test_reading_any import ANY_OPTIONS, read_bytes
from tests.scans.test_sdf import WHOLE, binary

TEXT = st.sampled_from(
    ["NaN", "INF", "-1", "0", "1e999", "1e-3", "20", "9" * 400, "", "A", "I", "Q", "../x", "a\\b",
     "C:x", "\u0661", "&lt;", "SUR", "2", "4294967296", " 1e-3 ", "bindata/data.bin", "main.xml"]
)  # fmt: skip


@st.composite
def descriptions(draw: st.DrawFn) -> bytes:
    """A description with some texts replaced, and perhaps a piece missing or doubled."""
    text = XML
    for _ in range(draw(st.integers(0, 3))):
        starts = [i + 1 for i, sign in enumerate(text) if sign == ">"]
        start = draw(st.sampled_from(starts))
        text = text[:start] + draw(TEXT) + text[max(text.find("<", start), start) :]
    if draw(st.booleans()):
        first, last = sorted(draw(st.tuples(*[st.integers(0, len(text))] * 2)))
        text = text[:first] + text[first:last] * draw(st.sampled_from([0, 2])) + text[last:]
    return text.encode()


@given(
    descriptions(),
    st.binary(max_size=200),
    st.booleans(),
    st.lists(st.tuples(st.integers(0, 4000), st.integers(0, 255)), max_size=3),
    ANY_OPTIONS,
)
def test_any_x3p(xml, data, whole, changes, options):
    data = data.ljust(160, b"\0")[:160] if whole else data
    xml = xml.replace(b"{md5}", md5_of(data).encode())
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, content in (
            ("main.xml", xml),
            ("bindata/data.bin", data),
            ("md5checksum.hex", md5_of(xml).encode()),
        ):
            archive.writestr(zipfile.ZipInfo(name), content)
    raw = bytearray(stream.getvalue())
    for place, byte in changes:
        raw[place % len(raw)] = byte
    read_bytes(bytes(raw), options)


@given(
    st.sampled_from([WHOLE.encode(), binary(), b"bISO-2.0" + binary()[8:], b"aBCR" + b"-1.0\n"]),
    st.lists(st.tuples(st.integers(0, 400), st.binary(max_size=6)), max_size=4),
    ANY_OPTIONS,
)
def test_any_sdf(content, changes, options):
    for place, piece in changes:
        place %= len(content)
        content = content[:place] + piece + content[place + len(piece) // 2 :]
    read_bytes(content, options)
    read_bytes(content, ReadingOptions())
