"""How a lot scales: time against a plain script and a serial run, memory against its wafers.

    python -m tests.benchmarks.lot_scale [--wafers 300] [--points 20000] [--jobs 2] [--runs 5]
                                         [--many 10000] [--many-points 600]

Whole processes are started by turns on the same files, the plain script once for all of them;
medians are given of wall time and of processor time.  On a machine that is busy with other things
only the processor time and the ratios say something.  The memory part measures a tenth of
``--many`` wafers, then all of them, and gives the highest memory of any one process; ``--many 0``
leaves it out.  For Linux: elsewhere memory comes in other units, or not at all.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from filmstress.simulate.pair import simulate_pair
from filmstress.simulate.truth import Truth
from tests.benchmarks import plain_script
from tests.benchmarks.speed import cold

_HEAD = """\
lot = "scale"
[substrate]
material = "Si(001)"
diameter = "150 mm"
thickness = "675 um ± 2 um"
[film]
thickness = "500 nm ± 2 %"
[scan]
support = "three-points"
"""
# Wafers of different form and waviness; each lot entry is one of them with noise of its own.
_FORMS = 10
_NOISE_M = 5e-9


def write_lot(folder: Path, wafers: int, points: int) -> tuple[Path, list[str]]:
    """A lot file and its scans in um, as the plain script reads them too: pre, post, pre, post."""
    forms = [
        simulate_pair(
            Truth(
                substrate="Si(001)",
                substrate_thickness_m=675e-6,
                diameter_m=0.15,
                stress_x_pa=(190 + number) * 1e6,
                film_thickness_m=500e-9,
                scan_length_m=0.12,
                points=points,
                bare_bow_m=5e-6,
                waviness_rms_m=50e-9,
                waviness_length_m=3e-3,
                correlated_noise_m=5e-9,
                seed=number,
            )
        )
        for number in range(min(_FORMS, wafers))
    ]
    noise = np.random.default_rng(1)
    text, paths = [_HEAD], []
    for number in range(wafers):
        pair = forms[number % len(forms)]
        for state, scan in (("pre", pair.pre), ("post", pair.post)):
            path = folder / f"{number:05}-{state}.csv"
            heights = scan.z + noise.normal(0.0, _NOISE_M, scan.z.size)
            columns = np.column_stack([scan.x, heights]) * 1e6
            np.savetxt(path, columns, "%.5f", ",", header="x [um],z [um]", comments="")
            paths.append(str(path))
        text.append(
            f'[[wafer]]\nid = "{number:05}"\n'
            f'scans = [{{ pre = "{number:05}-pre.csv", post = "{number:05}-post.csv" }}]\n'
        )
    lot = folder / "lot.toml"
    lot.write_text("".join(text), encoding="utf-8")
    return lot, paths


def program(lot: Path, *options: str) -> list[str]:
    """The command that measures a lot."""
    return [sys.executable, "-m", "filmstress", "lot", str(lot), *options]


def highest_memory(command: list[str]) -> float:
    """Highest memory of any one process of a command [MB]."""
    with Path(os.devnull).open("w") as nothing:
        running = subprocess.Popen(command, stdout=nothing)
        _, status, used = os.wait4(running.pid, 0)
    running.returncode = os.waitstatus_to_exitcode(status)
    if running.returncode:
        raise RuntimeError(f"{command} ended with {running.returncode}")
    return used.ru_maxrss / 1024.0


def main() -> None:
    """Measure everything and print it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--wafers", type=int, default=300)
    parser.add_argument("--points", type=int, default=20_000)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--many", type=int, default=10_000)
    parser.add_argument("--many-points", type=int, default=600)
    options = parser.parse_args()
    serial, parallel = "lot --jobs 1", f"lot --jobs {options.jobs}"
    with tempfile.TemporaryDirectory() as name:
        lot, paths = write_lot(Path(name), options.wafers, options.points)
        times = cold(
            {
                "plain script": [sys.executable, str(Path(plain_script.__file__)), *paths],
                serial: program(lot, "--jobs", "1"),
                parallel: program(lot, "--jobs", str(options.jobs)),
            },
            options.runs,
        )
    print(f"{options.wafers} wafers of {options.points} points, medians of {options.runs} runs [s]")
    for what, (wall, processor) in times.items():
        print(f"  {what:<16}{wall:8.2f} wall{processor:8.2f} processor")
    plain, alone, together = (times[what] for what in ("plain script", serial, parallel))
    print(f"  {parallel} / plain script: {together[0] / plain[0]:.2f} wall", end=", ")
    print(f"{together[1] / plain[1]:.2f} processor")
    print(f"  {serial} / {parallel}: {alone[0] / together[0]:.2f} wall")
    if options.many:
        used = {}
        for wafers in (options.many // 10, options.many):
            with tempfile.TemporaryDirectory() as name:
                lot, _ = write_lot(Path(name), wafers, options.many_points)
                used[wafers] = highest_memory(program(lot, "--jobs", str(options.jobs), "--json"))
            print(f"{wafers} wafers: {used[wafers]:.0f} MB in the largest process")
        (few, low), (many, high) = used.items()
        print(f"  {1024 * (high - low) / (many - few):.1f} kB for each further wafer")


if __name__ == "__main__":
    main()
