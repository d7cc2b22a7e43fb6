"""Drawing the demo lots: lot files, scans, and the truth beside them."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from filmstress.errors import RefusedInput
from filmstress.simulate.demo_lots import LOTS, README, DemoLot, DemoWafer
from filmstress.simulate.demo_stack import write_stack
from filmstress.simulate.demo_step import write_step
from filmstress.simulate.pair import SimulatedPair, simulate_wafer
from filmstress.simulate.truth import Truth
from filmstress.simulate.truth_file import truths_text
from filmstress.simulate.writing import line_name, make_directory, write_new, write_scan


@dataclass(frozen=True, slots=True)
class _Drawn:
    """A demo wafer with its truth, the thicknesses stated for it, and its scans."""

    wafer: DemoWafer
    truth: Truth
    substrate_um: float
    film_nm: float
    pairs: tuple[SimulatedPair, ...]

    def file(self, state: str, pair: SimulatedPair) -> str:
        """Path of a scan from its lot file."""
        return f"{state}/{self.wafer.id}-{line_name(pair)}.csv"


def write_demo(directory: str | os.PathLike[str]) -> list[Path]:
    """Draw the demo lots into an empty or new directory; every call writes the same bytes.

    Returns
    -------
    list of Path
        What was written: a README, and for each lot ``lot.toml`` (and ``wafers.csv``), the scans
        under ``pre/`` and ``post/``, and ``truth.toml``; folders of their own for the stack and the
        steps.

    Raises
    ------
    RefusedInput
        The directory holds something already, or cannot be written to.
    """
    root = Path(directory)
    make_directory(root)
    if any(root.iterdir()):
        raise RefusedInput(
            "is not empty, and nothing in it is written over",
            where=os.fspath(root),
            hint="name a directory that is empty or does not exist yet",
        )
    readme = root / "README.md"
    write_new(readme, README)
    written = [readme]
    for lot in LOTS:
        written += _write_lot(lot, root / lot.name)
    return written + write_stack(root) + write_step(root)


def _write_lot(lot: DemoLot, folder: Path) -> list[Path]:
    wafers = _draw(lot)
    texts = {"lot.toml": _lot_file(lot, wafers)}
    if lot.film_of_each_wafer:
        texts["wafers.csv"] = _wafer_table(lot, wafers)
    texts["truth.toml"] = truths_text((w.wafer.id, w.truth, w.pairs) for w in wafers)
    for state in ("pre", "post"):
        make_directory(folder / state)
    written = [folder / name for name in texts]
    for path, text in zip(written, texts.values(), strict=True):
        write_new(path, text)
    for drawn in wafers:
        for pair in drawn.pairs:
            traces = (pair.pre_trace, pair.post_trace)
            for trace, style in zip(traces, drawn.wafer.styles, strict=True):
                path = folder / drawn.file(trace.name, pair)
                write_scan(trace.x, trace.z, path, style=style)
                written.append(path)
    return written


def _draw(lot: DemoLot) -> list[_Drawn]:
    """Draw the wafers of a lot: thicknesses and bows that scatter, gauges that err."""
    rng = np.random.default_rng(lot.seed)
    nominal_um, nominal_nm = lot.base.substrate_thickness_m * 1e6, lot.base.film_thickness_m * 1e9
    film_nm, film_error_nm = _film_thickness(rng, lot, nominal_nm)
    drawn = []
    for number, wafer in enumerate(lot.wafers):
        if lot.film_of_each_wafer:
            film_nm, film_error_nm = _film_thickness(rng, lot, nominal_nm)
        bow, thickness, error = rng.standard_normal(3).tolist()
        substrate_um = nominal_um + 3.0 * thickness
        truth = replace(
            lot.base,
            stress_x_pa=wafer.stress_mpa[0] * 1e6,
            stress_y_pa=wafer.stress_mpa[1] * 1e6,
            film_thickness_m=_decimal(film_nm, 1, -9),
            substrate_thickness_m=_decimal(substrate_um, 1, -6),
            bare_bow_m=_decimal(10.0 * bow, 1, -6),
            pre=wafer.pre,
            post=wafer.post,
            seed=lot.seed * 100 + number,
        )
        stated_um = round(substrate_um, 1) + lot.substrate_u_um * error
        stated_nm = round(film_nm, 1) + film_error_nm
        drawn.append(_Drawn(wafer, truth, stated_um, stated_nm, simulate_wafer(truth)))
    return drawn


def _film_thickness(
    rng: np.random.Generator, lot: DemoLot, nominal_nm: float
) -> tuple[float, float]:
    """Draw a film's thickness and the error of the gauge that measures it [nm]."""
    scatter, error = rng.standard_normal(2).tolist()
    return nominal_nm * (1.0 + 0.01 * scatter), lot.film_u_nm * error


def _decimal(value: float, digits: int, exponent: int) -> float:
    """Return the float nearest to a decimal of a few digits, times a power of ten."""
    return float(f"{value:.{digits}f}e{exponent}")


def _lot_file(lot: DemoLot, wafers: Sequence[_Drawn]) -> str:
    if lot.film_of_each_wafer:
        return lot.head
    head = lot.head.format(film_thickness=f"{wafers[0].film_nm:.1f} nm ± {lot.film_u_nm:g} nm")
    return "\n".join([head, *(_wafer_entry(lot, drawn) for drawn in wafers)])


def _wafer_entry(lot: DemoLot, drawn: _Drawn) -> str:
    lines = [
        "[[wafer]]",
        f'id = "{drawn.wafer.id}"',
        f'substrate.thickness = "{drawn.substrate_um:.1f} um ± {lot.substrate_u_um:g} um"',
        "scans = [",
    ]
    for pair in drawn.pairs:
        pre, post = drawn.file("pre", pair), drawn.file("post", pair)
        azimuth = f"{math.degrees(pair.azimuth_rad):g} deg"
        lines.append(f'  {{ azimuth = "{azimuth}", pre = "{pre}", post = "{post}" }},')
    return "\n".join([*lines, "]", ""])


def _wafer_table(lot: DemoLot, wafers: Sequence[_Drawn]) -> str:
    head = (
        "wafer,azimuth [deg],pre,post,film_thickness [nm],film_thickness_u [nm],"
        "substrate_thickness [um],substrate_thickness_u [um]"
    )
    rows = [
        f"{drawn.wafer.id},{math.degrees(pair.azimuth_rad):g},"
        f"{drawn.file('pre', pair)},{drawn.file('post', pair)},"
        f"{drawn.film_nm:.1f},{lot.film_u_nm:g},{drawn.substrate_um:.1f},{lot.substrate_u_um:g}"
        for drawn in wafers
        for pair in drawn.pairs
    ]
    return "\n".join([head, *rows, ""])
