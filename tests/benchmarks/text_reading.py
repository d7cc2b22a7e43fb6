"""How long a text file takes to read, against ``np.loadtxt`` of the same bytes and nothing else.

    python -m tests.benchmarks.text_reading [--points 2000,20000,1000000] [--runs 15]

``np.loadtxt`` is told the delimiter, the lines to pass over and, for a decimal comma, a converter
of the text: what a script does that knows its file.  Ours finds all that by itself, hashes the
bytes, and checks order, units and plausibility.  The two take turns, so that a machine that is busy
for a while is busy for both; the median of the ratios of a turn is given, and the least times.
"""

from __future__ import annotations

import argparse
import gzip
import statistics
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from filmstress.scans.reading.scan_file import read_scan


@dataclass(frozen=True)
class FileStyle:
    """One way of writing a scan."""

    head: str
    row: str
    delimiter: str | None = ","
    comma: bool = False
    packed: bool = False
    end: str = "\n"


STYLES = {
    "fixed point": FileStyle("x [mm],z [um]", "{x:.4f},{z:.4f}"),
    "exponents": FileStyle("x [m],z [m]", "{x_m:.6e},{z_m:.4e}"),
    "blanks, exponents": FileStyle("# x [m] z [m]", "{x_m:.18e} {z_m:.18e}", None),
    "mixed": FileStyle("x [mm],z [um]", "{x:.7g},{z:.7g}"),
    "all digits": FileStyle("x [mm],z [um]", "{x!r},{z!r}"),
    "semicolon, comma": FileStyle("x [mm];z [um]", "{x:.4f};{z:.4f}", ";", comma=True),
    "comma, exponents": FileStyle("x [m];z [m]", "{x_m:.6e};{z_m:.4e}", ";", comma=True),
    "tab": FileStyle("x [mm]\tz [um]", "{x:.4f}\t{z:.4f}", "\t", end="\r\n"),
    "three columns": FileStyle("n,x [mm],z [um]", "{n},{x:.4f},{z:.4f}"),
    "gzip": FileStyle("x [mm],z [um]", "{x:.4f},{z:.4f}", packed=True),
}


def write(path: Path, style: FileStyle, points: int) -> Path:
    """A scan of a bowed wafer in a style."""
    rng = np.random.default_rng(7)
    x = np.linspace(-50.0, 50.0, points)
    z = 0.004 * x**2 + rng.normal(0.0, 0.02, points)
    rows = [
        style.row.format(n=n, x=a, z=b, x_m=a * 1e-3, z_m=b * 1e-6)
        for n, (a, b) in enumerate(zip(x.tolist(), z.tolist(), strict=True))
    ]
    text = style.end.join([style.head, *rows, ""])
    content = (text.replace(".", ",") if style.comma else text).encode()
    file = path.with_suffix(".csv.gz" if style.packed else ".csv")
    file.write_bytes(gzip.compress(content, 6) if style.packed else content)
    return file


def plainly(path: Path, style: FileStyle) -> object:
    """The bare reading of numpy."""
    if not style.comma:
        return np.loadtxt(path, delimiter=style.delimiter, skiprows=1)
    with path.open(encoding="utf-8") as lines:
        points = (line.replace(",", ".") for line in lines)
        return np.loadtxt(points, delimiter=style.delimiter, skiprows=1)


def ratios(path: Path, style: FileStyle, runs: int) -> tuple[list[float], float, float]:
    """Our time over numpy's, turn by turn, and the least time of each [s]."""
    ours = [_taken(lambda: read_scan(path))]
    bare = [_taken(lambda: plainly(path, style))]
    ours.clear()
    bare.clear()
    for _ in range(runs):
        bare.append(_taken(lambda: plainly(path, style)))
        ours.append(_taken(lambda: read_scan(path)))
    return [one / other for one, other in zip(ours, bare, strict=True)], min(ours), min(bare)


def _taken(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--points", default="2000,20000,1000000")
    parser.add_argument("--runs", type=int, default=15)
    asked = parser.parse_args()
    print(f"{'style':<20} {'points':>9} {'median':>7} {'least':>7} {'ours ms':>9} {'numpy ms':>9}")
    with tempfile.TemporaryDirectory() as folder:
        for points in map(int, asked.points.split(",")):
            runs = asked.runs if points < 500_000 else max(asked.runs // 5, 3)
            for name, style in STYLES.items():
                path = write(Path(folder) / "scan", style, points)
                found, ours, bare = ratios(path, style, runs)
                print(
                    f"{name:<20} {points:>9} {statistics.median(found):>7.2f} "
                    f"{ours / bare:>7.2f} {1e3 * ours:>9.2f} {1e3 * bare:>9.2f}"
                )


if __name__ == "__main__":
    main()
