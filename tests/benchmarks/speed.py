"""How long a measurement takes, against a plain script and against nothing at all.

    python -m tests.benchmarks.speed [--runs 11] [--rows 10000000]

Whole processes are started by turns, so that a machine that is busy for a while is busy for all of
them; medians are given, of wall time and of processor time, and their ratios.  The memory part
writes a long scan, reads it in a process of its own, and gives that process's highest memory over
what it had before reading, in multiples of the two arrays that come out; ``--rows 0`` leaves it
out.  For Linux: elsewhere the highest memory comes in other units, or not at all.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from filmstress.simulate.pair import simulate_pair
from filmstress.simulate.truth import Truth
from tests.benchmarks import plain_script

POINTS = 20_000
SETTINGS = {
    "substrate": "Si(001)",
    "substrate_thickness": "675 um ± 2 um",
    "film_thickness": "500 nm ± 2 %",
}

_WARM = """
import json, statistics, sys, time
from filmstress.measure.wafer import measure_film
from tests.benchmarks.plain_script import stress_mpa
pre, post, runs, settings = *sys.argv[1:3], int(sys.argv[3]), json.loads(sys.argv[4])
work = {
    "measure_film": lambda: measure_film(pre, post, **settings),
    "plain script": lambda: stress_mpa(pre, post),
}
taken = {name: [] for name in work}
for turn in range(runs + 3):
    for name, function in work.items():
        start = time.process_time()
        function()
        taken[name].append(time.process_time() - start)
print(json.dumps({name: statistics.median(times[3:]) for name, times in taken.items()}))
"""

_READ = """
import resource, sys
from filmstress.records.scan import ReadingOptions
from filmstress.scans.reading.scan_file import read_scan
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
scan = read_scan(sys.argv[1], ReadingOptions())
after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(scan.x.size, (after - before) * 1024)
"""


def write_pair(folder: Path, points: int = POINTS) -> tuple[str, str]:
    """A pair of scans in um, as both programs read it."""
    truth = Truth(
        substrate="Si(001)",
        substrate_thickness_m=675e-6,
        diameter_m=0.15,
        stress_x_pa=200e6,
        film_thickness_m=500e-9,
        scan_length_m=0.12,
        points=points,
        bare_bow_m=5e-6,
        waviness_rms_m=50e-9,
        waviness_length_m=3e-3,
        white_noise_m=5e-9,
        correlated_noise_m=5e-9,
        seed=20,
    )
    pair = simulate_pair(truth)
    paths = []
    for name, scan in (("pre", pair.pre), ("post", pair.post)):
        path = folder / f"{name}.csv"
        columns = np.column_stack([scan.x, scan.z]) * 1e6
        np.savetxt(path, columns, delimiter=",", fmt="%.5f", header="x [um],z [um]", comments="")
        paths.append(str(path))
    return paths[0], paths[1]


def cold(commands: dict[str, list[str]], runs: int) -> dict[str, tuple[float, float]]:
    """Median wall and processor time [s] of whole processes, started by turns."""
    # Modules are compiled once, as an installation does it, wherever the tests keep them.
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    with tempfile.TemporaryDirectory() as cache:
        environment["PYTHONPYCACHEPREFIX"] = cache
        taken: dict[str, list[tuple[float, float]]] = {name: [] for name in commands}
        for turn in range(runs + 1):
            for name, command in commands.items():
                spent, start = _children(), time.perf_counter()
                subprocess.run(command, stdout=subprocess.DEVNULL, check=True, env=environment)
                one = (time.perf_counter() - start, _children() - spent)
                if turn:  # the first compiles
                    taken[name].append(one)
    return {
        name: (statistics.median(w for w, _ in times), statistics.median(c for _, c in times))
        for name, times in taken.items()
    }


def _children() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def warm(pre: str, post: str, runs: int) -> dict[str, float]:
    """Median processor time [s] from files to budget in a running process, by turns."""
    # One thread for linear algebra, as the program sets it for itself.
    done = subprocess.run(
        [sys.executable, "-c", _WARM, pre, post, str(runs), json.dumps(SETTINGS)],
        env=os.environ | {"OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    times: dict[str, float] = json.loads(done.stdout)
    return times


def write_long(path: Path, rows: int) -> None:
    """A scan of many rows, written in blocks."""
    with path.open("w", encoding="ascii") as file:
        file.write("x [um],z [nm]\n")
        for start in range(0, rows, 100_000):
            x = np.arange(start, min(start + 100_000, rows)) * 0.01
            z = 100.0 * np.sin(x / 500.0) + 1e-6 * x**2
            lines = (f"{a:.2f},{b:.3f}\n" for a, b in zip(x.tolist(), z.tolist(), strict=True))
            file.write("".join(lines))


def memory(path: Path) -> tuple[int, float]:
    """Rows of a file, and the memory that reading it took over that of its two arrays."""
    done = subprocess.run(
        [sys.executable, "-c", _READ, str(path)], capture_output=True, text=True, check=True
    )
    rows, taken = map(int, done.stdout.split())
    return rows, taken / (rows * 2 * 8)


def main() -> None:
    """Measure everything and print it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=11)
    parser.add_argument("--rows", type=int, default=10_000_000)
    options = parser.parse_args()
    python, program = [sys.executable], [sys.executable, "-m", "filmstress"]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        pre, post = write_pair(folder)
        stated = [w for k, v in SETTINGS.items() for w in ("--" + k.replace("_", "-"), v)]
        times = cold(
            {
                "python -c pass": [*python, "-c", "pass"],
                "import numpy": [*python, "-c", "import numpy"],
                "filmstress --help": [*program, "--help"],
                "filmstress inspect": [*program, "inspect", pre],
                "filmstress measure": [*program, "measure", pre, post, *stated],
                "plain script": [*python, str(Path(plain_script.__file__)), pre, post],
            },
            options.runs,
        )
        print(f"whole processes, {POINTS} points a scan, medians of {options.runs} runs [ms]")
        for what, (wall, processor) in times.items():
            print(f"  {what:<22}{1e3 * wall:8.1f} wall{1e3 * processor:8.1f} processor")
        ours, plain = times["filmstress measure"], times["plain script"]
        wall, processor = (one / other for one, other in zip(ours, plain, strict=True))
        print(f"  measure / plain script: {wall:.2f} wall, {processor:.2f} processor")

        inside = warm(pre, post, options.runs)
        print("inside a running process, files to budget, processor time [ms]")
        for what, wall in inside.items():
            print(f"  {what:<22}{1e3 * wall:8.1f}")
        print(f"  measure / plain script: {inside['measure_film'] / inside['plain script']:.2f}")

        if options.rows:
            long = folder / "long.csv"
            write_long(long, options.rows)
            rows, factor = memory(long)
            print(f"reading {rows} rows takes {factor:.2f} times the memory of the two arrays")


if __name__ == "__main__":
    main()
