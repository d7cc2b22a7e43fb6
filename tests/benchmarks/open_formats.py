"""How fast X3P and SDF files are read, with and without what is hashed.

    python -m tests.benchmarks.open_formats [--points 5000000] [--runs 5]

Files are written by other people's writers (x3pio, sdfio), read once to warm the disk's cache, and
then timed; the best of some runs is given, in bytes of stored points a second.  A file is hashed
twice: SHA-256 over all of it, for the record, and MD5 over the points, where the file states it.
Neither can be taken in pieces.  "Without hashes" is the same reading with both taken out, and what
they alone cost stands beside it.
"""

from __future__ import annotations

import argparse
import hashlib
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

import numpy as np
import sdfio
import x3pio

from filmstress.records.scan import ReadingOptions
from filmstress.scans.reading.kept_maps import forget_maps
from filmstress.scans.reading.map_file import read_map
from filmstress.scans.reading.scan_file import read_scan


@dataclass(frozen=True)
class Rate:
    """Bytes of stored points a second [GB/s]."""

    whole: float
    without_hashes: float


class _NoHash:
    def update(self, data: bytes) -> None: ...

    def hexdigest(self) -> str:
        return "0" * 64


def _no_sum(*_: object) -> None: ...


@contextmanager
def no_hashes() -> Iterator[None]:
    """Leave out SHA-256 and MD5."""
    archive = "filmstress.scans.reading.x3p.container.Archive.check_md5"
    with ExitStack() as stack:
        sha256 = "filmstress.scans.reading.source.hashlib.sha256"
        stack.enter_context(mock.patch(sha256, _NoHash))
        stack.enter_context(mock.patch(archive, _no_sum))  # a Mock would keep the arrays
        yield


def best(work: Callable[[], object], runs: int) -> float:
    """Shortest time of some runs [s]."""
    times = []
    for _ in range(runs + 1):
        start = time.process_time()
        work()
        times.append(time.process_time() - start)
    return min(times[1:])


def rate_of(read: Callable[[], object], size: int, runs: int) -> Rate:
    """Rate of a reading of ``size`` bytes of points."""
    whole = best(read, runs)
    with no_hashes():
        without = best(read, runs)
    return Rate(size / whole / 1e9, size / without / 1e9)


def write_profile_x3p(path: Path, points: int) -> int:
    """A profile in binary float64; the bytes of its points."""
    z = 1e-6 * np.random.default_rng(1).standard_normal(points)
    x3pio.write(path, z, x_scale=0.1 / points)
    # x3pio deflates; instruments' files are as often stored, which is what is timed.
    _store(path)
    return z.nbytes


def _store(path: Path) -> None:
    import zipfile

    with zipfile.ZipFile(path) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)


def write_map_x3p(path: Path, side: int) -> int:
    """A map in binary float64, deflated as x3pio does."""
    z = 1e-6 * np.random.default_rng(1).standard_normal((side, side))
    x3pio.write(path, z, x_scale=0.1 / side, y_scale=0.1 / side)
    _store(path)
    return z.nbytes


def write_sdf(path: Path, points: int, form: sdfio.FileFormat) -> int:
    """A profile in float64."""
    z = 1e-6 * np.random.default_rng(1).standard_normal((1, points))
    kind = sdfio.Metadata(revision=sdfio.Revision.ISO_2_0, data_type=sdfio.DataType.BINARY64)
    sdfio.write(path, z, x_scale=0.1 / points, y_scale=1.0, format=form, metadata=kind)
    return z.nbytes if form is sdfio.FileFormat.BINARY else path.stat().st_size


def afresh(read: Callable[[Path, ReadingOptions], object], path: Path) -> None:
    """Read a file as if for the first time."""
    forget_maps()
    read(path, ReadingOptions())


def main() -> None:
    """Print the rates."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--points", type=int, default=5_000_000)
    parser.add_argument("--runs", type=int, default=5)
    options = parser.parse_args()
    text_points, side = options.points // 10, int(options.points**0.5)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "file"
        print(f"{'file':34} {'GB/s':>8} {'without hashes':>16}")
        for name, write, read in (
            ("X3P profile, float64", lambda: write_profile_x3p(path, options.points), read_scan),
            ("X3P map, float64", lambda: write_map_x3p(path, side), read_map),
            (
                "SDF profile, binary float64",
                lambda: write_sdf(path, options.points, sdfio.FileFormat.BINARY),
                read_scan,
            ),
            (
                "SDF profile, text",
                lambda: write_sdf(path, text_points, sdfio.FileFormat.ASCII),
                read_scan,
            ),
        ):
            size = write()
            rate = rate_of(lambda read=read: afresh(read, path), size, options.runs)  # type: ignore[misc]
            print(f"{name:34} {rate.whole:8.2f} {rate.without_hashes:16.2f}")
    data = np.random.default_rng(1).bytes(1 << 26)
    for kind in ("sha256", "md5"):
        taken = best(lambda kind=kind: hashlib.new(kind, data).digest(), options.runs)  # type: ignore[misc]
        print(f"{kind + ' alone':34} {len(data) / taken / 1e9:8.2f}")


if __name__ == "__main__":
    main()
