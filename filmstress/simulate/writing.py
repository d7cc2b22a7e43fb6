"""Writing simulated scans into files, which are never written over."""

from __future__ import annotations

import math
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from filmstress.errors import RefusedInput
from filmstress.simulate.pair import SimulatedPair, simulate_wafer
from filmstress.simulate.styles import find_style
from filmstress.simulate.truth import Truth
from filmstress.simulate.truth_file import truths_text


def write_scan(
    x: ArrayLike, z: ArrayLike, path: str | os.PathLike[str], *, style: str = "plain"
) -> None:
    """Write positions and heights [m] as a laboratory would.

    Parameters
    ----------
    x, z : array_like, shape (n,)
        Positions, increasing, and heights [m]; a NaN height is written as a missing one.
    path : path
        Of a file that does not exist yet.
    style : str
        Name of a layout in ``filmstress.simulate.styles.STYLES``; it fixes units and digits.

    Raises
    ------
    RefusedInput
        Arrays that do not fit together, an unknown style, a file that exists or cannot be made,
        uneven positions in a style that writes heights only.
    """
    positions, heights = np.asarray(x, np.float64), np.asarray(z, np.float64)
    layout = find_style(style)
    if positions.ndim != 1 or positions.shape != heights.shape or positions.size < 2:
        raise RefusedInput(
            f"positions of shape {positions.shape} and heights of shape {heights.shape} came; "
            "want two rows of one length, two points or more",
            where=os.fspath(path),
        )
    steps = np.diff(positions)
    if layout.heights_only and np.ptp(steps) > 1e-6 * abs(float(steps.mean())):
        raise RefusedInput(
            f"positions are uneven; the style '{style}' writes one interval for all",
            where=os.fspath(path),
            hint="take the style 'plain'",
        )
    text = layout.line_end.join(layout.lines(positions, heights)) + layout.line_end
    write_new(path, text)


def write_pair(
    truth: Truth,
    directory: str | os.PathLike[str],
    *,
    seed: int | None = None,
    style: str = "plain",
    repeats: int = 1,
) -> list[Path]:
    """Draw every line of a truth and write it: ``pre-000.csv``, ``post-000.csv``, ``truth.toml``.

    Bare scans on supports are ``weight-first-000.csv`` and ``weight-second-000.csv``.

    The number is the azimuth in degrees; repeats after the first end in ``-2``, ``-3`` ...

    Parameters
    ----------
    truth : Truth
        What is drawn.
    directory : path
        Made if it is not there; none of the files may exist in it.
    seed : int, optional
        In place of the truth's own.
    style : str
        Layout of the scans.
    repeats : int
        How often each line is scanned, each time before and after.

    Returns
    -------
    list of Path
        What was written, the truth last.

    Raises
    ------
    RefusedInput
        A file that exists already, or a place that cannot be written to.
    """
    if seed is not None:
        truth = replace(truth, seed=seed)
    find_style(style)
    pairs = simulate_wafer(truth, repeats=repeats)
    folder = Path(directory)
    places = [
        (trace, folder / f"{trace.name}-{line_name(pair)}.csv")
        for pair in pairs
        for trace in (pair.pre_trace, pair.post_trace, *pair.weighings)
    ]
    truth_path = folder / "truth.toml"
    written = [*(path for _, path in places), truth_path]
    for path in written:  # before the first is written, so that nothing is left half done
        if path.exists():
            raise _exists(path)
    make_directory(folder)
    for trace, path in places:
        write_scan(trace.x, trace.z, path, style=style)
    write_new(truth_path, truths_text([("01", truth, pairs)]))
    return written


def line_name(pair: SimulatedPair) -> str:
    """Azimuth in degrees, and the repeat from the second on: ``090``, ``022.5``, ``000-2``."""
    degrees = f"{math.degrees(pair.azimuth_rad):08.4f}".rstrip("0").rstrip(".")
    return degrees if pair.repeat == 0 else f"{degrees}-{pair.repeat + 1}"


def write_new(path: str | os.PathLike[str], text: str) -> None:
    """Write a file that does not exist yet, as UTF-8, line ends as they stand in the text.

    Raises
    ------
    RefusedInput
        It exists, or cannot be made.
    """
    try:
        with Path(path).open("x", encoding="utf-8", newline="") as file:
            file.write(text)
    except FileExistsError as error:
        raise _exists(path) from error
    except OSError as error:
        raise _cannot_write(path, error) from error


def make_directory(path: Path) -> None:
    """Make a directory and those above it, if they are not there.

    Raises
    ------
    RefusedInput
        It cannot be made.
    """
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _cannot_write(path, error) from error


def _exists(path: str | os.PathLike[str]) -> RefusedInput:
    return RefusedInput(
        "exists already and is not written over",
        where=os.fspath(path),
        hint="name another directory, or move the file away",
    )


def _cannot_write(path: str | os.PathLike[str], error: OSError) -> RefusedInput:
    return RefusedInput(
        f"cannot be written ({error.strerror or error})",
        where=os.fspath(path),
        hint="name a place that can be written to",
    )
