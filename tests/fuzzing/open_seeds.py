"""Sound X3P and SDF files: profiles and maps, whole, and from behind their checksums."""

from __future__ import annotations

import gzip
import hashlib
import io
import struct
import zipfile
from collections.abc import Iterator, Mapping
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from tests.fuzzing.seeds import Seed, drawn, seed

Floats = NDArray[np.float64]
_MAIN, _POINTS, _VALID = "main.xml", "bindata/data.bin", "bindata/valid.bin"
_X3P = """\
<?xml version="1.0" encoding="UTF-8"?>
<p:ISO5436_2 xmlns:p="http://www.opengps.eu/2008/ISO5436_2">
<Record1>
<Revision>ISO5436 - 2000</Revision>
<FeatureType>{feature}</FeatureType>
<Axes>
<CX><AxisType>{along}</AxisType><DataType>D</DataType>
<Increment>{step!r}</Increment><Offset>0.0</Offset></CX>
<CY><AxisType>I</AxisType><DataType>D</DataType>
<Increment>{step!r}</Increment><Offset>0.0</Offset></CY>
<CZ><AxisType>A</AxisType><DataType>{kind}</DataType>
<Increment>{scale!r}</Increment><Offset>0.0</Offset></CZ>
</Axes>
</Record1>
<Record2>
<Date>2026-03-14T10:00:00</Date>
<Instrument><Manufacturer>a maker</Manufacturer></Instrument>
</Record2>
<Record3>
<MatrixDimension>
<SizeX>{sizes[2]}</SizeX>
<SizeY>{sizes[1]}</SizeY>
<SizeZ>{sizes[0]}</SizeZ>
</MatrixDimension>
{points}
</Record3>
<Record4>
<ChecksumFile>md5checksum.hex</ChecksumFile>
</Record4>
</p:ISO5436_2>
"""


def _md5(data: bytes) -> str:
    return hashlib.md5(data, usedforsecurity=False).hexdigest()


def _archive(members: Mapping[str, bytes]) -> bytes:
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED)
    return whole.getvalue()


def _description(
    heights: NDArray[np.generic],
    points: str,
    *,
    step: float,
    scale: float = 1.0,
    along: str = "I",
) -> bytes:
    sizes = ((1,) * (3 - heights.ndim)) + heights.shape
    return _X3P.format(
        feature="PRF" if sizes[1] == 1 else "SUR",
        along=along,
        step=step,
        kind="I" if heights.dtype.kind == "i" else "D",
        scale=scale,
        sizes=sizes,
        points=points,
    ).encode()


def _linked(points: bytes, valid: bytes = b"") -> str:
    links = [("PointDataLink", _POINTS), ("MD5ChecksumPointData", _md5(points))]
    if valid:
        links += [("ValidPointsLink", _VALID), ("MD5ChecksumValidPoints", _md5(valid))]
    inner = "\n".join(f"<{name}>{text}</{name}>" for name, text in links)
    return f"<DataLink>\n{inner}\n</DataLink>"


def _repacked(content: bytes, *, member: str, sound: dict[str, bytes]) -> bytes:
    """The archive with one member mutated: of its old size, and every sum right again.

    Points are cut or filled up to the size that the description gives, which itself is free.
    """
    members = dict(sound)
    if member != _MAIN:
        size = len(sound[member])
        members[member] = content[:size].ljust(size, b"\0")
        old, new = (_md5(one[member]).encode() for one in (sound, members))
        members[_MAIN] = sound[_MAIN].replace(old, new)
    else:
        members[_MAIN] = content
    members["md5checksum.hex"] = f"{_md5(members[_MAIN])} *main.xml\n".encode()
    return _archive(members)


@cache
def trace() -> tuple[float, Floats]:
    """Step and heights of a scan after deposition [m]."""
    _, post = drawn()
    rows = np.array([row.split(b",") for row in post.split(b"\n")[1:-1]], np.float64)
    return 1e-3 * float(rows[1, 0] - rows[0, 0]), 1e-6 * rows[:, 1]


@cache
def maps() -> tuple[float, Floats, Floats]:
    """Step, and heights of a wafer before and after deposition [m]; NaN beside the wafer."""
    from filmstress.simulate.maps import simulate_maps
    from filmstress.simulate.truth import Truth

    truth = Truth(
        substrate_thickness_m=675e-6,
        diameter_m=0.15,
        stress_x_pa=200e6,
        film_thickness_m=500e-9,
        bare_bow_m=5e-6,
        waviness_rms_m=50e-9,
        waviness_length_m=8e-3,
        white_noise_m=5e-9,
        scan_length_m=0.12,
        points=31,
        seed=3,
    )
    made = simulate_maps(truth)
    return float(made.pre.x[1] - made.pre.x[0]), made.pre.z, made.post.z


def _whole_numbers(heights: Floats) -> tuple[float, NDArray[np.int16], bytes]:
    """Scale, heights as whole numbers of it, and the marks of those measured, first lowest."""
    scale = float(np.nanmax(np.abs(heights))) / 32000.0
    whole = np.nan_to_num(heights / scale).round().astype("<i2")
    return scale, whole, np.packbits(np.isfinite(heights).ravel(), bitorder="little").tobytes()


def _binary(
    name: str,
    heights: NDArray[np.generic],
    valid: bytes = b"",
    *,
    doors: tuple[str, str] = ("inspect", "export"),
    **said: float,
) -> Iterator[Seed]:
    """Seeds of a file with binary points: the archive, and each member behind its checksum."""
    read, written = doors
    points = heights.tobytes()
    main = _description(heights, _linked(points, valid), **said)  # type: ignore[arg-type]
    sound = {_MAIN: main, _POINTS: points} | ({_VALID: valid} if valid else {})
    packed = _repacked(main, member=_MAIN, sound=sound)
    yield Seed(f"X3P, {name}", read, "scan.x3p", packed)
    for member, content in sound.items():
        pack = partial(_repacked, member=member, sound=sound)
        yield Seed(f"X3P, {name}, {member}", read, "scan.x3p", content, pack=pack)
    pack = partial(_repacked, member=_MAIN, sound=sound)
    yield Seed(f"X3P, {name}, written anew", written, "scan.x3p", main, pack=pack)


@seed
def _x3p() -> Iterator[Seed]:
    step, heights = trace()
    yield from _binary("profile", heights, step=step)
    scale, whole, valid = _whole_numbers(np.where(np.arange(heights.size) % 40, heights, np.nan))
    yield from _binary("profile of int16", whole, valid, step=step, scale=scale)
    layers = np.stack([-heights, heights])[:, None]
    doors = ("inspect, second layer", "export, second layer")
    yield from _binary("two layers", layers, step=step, doors=doors)
    pitch, _, post = maps()
    scale, whole, valid = _whole_numbers(post)
    doors = ("inspect", "export, line of a map")
    yield from _binary("map of int16", whole, valid, step=pitch, scale=scale, doors=doors)
    x = step * np.arange(heights.size)
    datums = "".join(f"<Datum>{a:.9e};{b:.9e}</Datum>\n" for a, b in zip(x, heights, strict=True))
    written = _description(heights, f"<DataList>\n{datums}</DataList>", step=1.0, along="A")
    pack = partial(_repacked, member=_MAIN, sound={_MAIN: written})
    yield Seed("X3P, DataList", "inspect", "scan.x3p", written, pack=pack)
    packed = pack(written)
    yield Seed("X3P, in gzip", "inspect", "scan.x3p.gz", packed, pack=gzip.compress)


def sdf_text(heights: Floats, step: float) -> bytes:
    """A file of ISO 25178-71 in ASCII."""
    rows = np.atleast_2d(heights)
    head = (
        "aISO-1.0", "ManufacID = a maker", "CreateDate = 140320261000", "ModDate = 140320261000",
        f"NumPoints = {rows.shape[1]}", f"NumProfiles = {rows.shape[0]}", f"Xscale = {step!r}",
        f"Yscale = {step!r}", "Zscale = 1e-09", "Zresolution = -1", "Compression = 0",
        "DataType = 7", "CheckType = 0", "*",
    )  # fmt: skip
    body = [" ".join("BAD" if np.isnan(z) else f"{z * 1e9:.3f}" for z in row) for row in rows]
    return "\n".join([*head, *body, "*", "remarks", "*", ""]).encode()


def sdf_binary(heights: Floats, step: float) -> bytes:
    """A file of ISO 25178-71 in whole numbers of the machine."""
    rows = np.atleast_2d(heights)
    scale, whole, _ = _whole_numbers(rows)
    whole[np.isnan(rows)] = np.iinfo(np.int16).min
    head = struct.pack(
        "<8s10s12s12sHHdddd3B", b"bISO-1.0", b"a maker", b"140320261000", b"140320261000",
        rows.shape[1], rows.shape[0], step, step, scale, -1.0, 0, 5, 0,
    )  # fmt: skip
    return head + whole.tobytes()


@seed
def _sdf() -> Iterator[Seed]:
    step, heights = trace()
    pitch, pre, post = maps()
    for name, write in (("ASCII", sdf_text), ("binary", sdf_binary)):
        yield Seed(f"SDF, {name}", "inspect", "scan.sdf", write(heights, step))
        yield Seed(f"SDF, {name}, map", "inspect", "scan.sdf", write(post, pitch))
        yield Seed(f"SDF, {name}, written anew", "export", "scan.sdf", write(heights, step))
        beside = {"pre.sdf": write(pre, pitch)}
        yield Seed(f"pair of maps, {name}", "measure, map", "post.sdf", write(post, pitch), beside)
    packed = sdf_text(heights, step)
    yield Seed("SDF, in gzip", "inspect", "scan.sdf.gz", packed, pack=gzip.compress)
