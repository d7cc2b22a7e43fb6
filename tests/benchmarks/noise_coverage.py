"""How often the 95 % interval of the curvature holds the truth, under many kinds of noise.

    python -m tests.benchmarks.noise_coverage [--scans 4000] [--seed 1] [--out DIR]

Writes noise_coverage.csv, noise_coverage.md and noise_coverage.png, and prints the table.
For each kind of noise and each setting of the noise model:

coverage    share of the traces whose interval holds the truth
as printed  the same with the degrees of freedom cut to a whole number, as results print it
spread      standard deviation of the curvature over the best one possible (covariance known)
width       median half-width over 1.96 times the best standard deviation
warned      share of the traces whose uncertainty is flagged as not established
ok or warned  share of the traces whose interval holds the truth or is flagged
"""

from __future__ import annotations

import argparse
import csv
import math
import time
from collections.abc import Sequence
from dataclasses import astuple, dataclass, fields
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student

from filmstress.stats.averaging import Setting, average_fits
from filmstress.stats.block_means import block_means
from filmstress.stats.noise import parabola_rows
from filmstress.stats.noise_family import noise_family
from filmstress.stats.reml import fit_family
from tests.benchmarks.noise_kinds import DRIFT, KINDS, POINTS, SHORT, WALK, best_sd, draw

Floats = NDArray[np.float64]

BATCH = 250
CURVATURE = 2
PROBABILITY = 0.95


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    noise: str
    setting: str
    traces: int
    coverage: float
    as_printed: float
    spread: float
    width: float
    warned: float
    ok_or_warned: float
    ok_if_not_warned: float


@dataclass(frozen=True)
class Fits:
    """Curvature error, u, dof and flag of many traces of one kind, in units of the best sd."""

    error: Floats
    u: Floats
    dof: Floats
    established: NDArray[np.bool_]


def fit_traces(noise: Floats, setting: Setting) -> Fits:
    """Fit traces that share their positions all at once: what ``fit_quadratic`` does to each."""
    x = np.linspace(-0.5, 0.5, POINTS)
    blocks = block_means(x, noise[0])
    regressors = parabola_rows(blocks)
    family = noise_family(blocks.blocks, blocks.index, blocks.count)
    means = noise.reshape(len(noise), blocks.blocks, -1).mean(axis=2).T
    start = np.linalg.lstsq(regressors.T, means, rcond=None)[0]
    rest = means - regressors.T @ start
    scale = np.abs(rest).max(axis=0)
    fits = fit_family(family, regressors, rest / scale)
    mean = average_fits(family, fits, setting=setting, of=CURVATURE)
    per_second = 3.0 / blocks.half_length**2
    return Fits(
        error=per_second * (start[CURVATURE] + scale * mean.coefficients[CURVATURE]),
        u=per_second * scale * np.sqrt(mean.variance),
        dof=mean.dof,
        established=mean.established,
    )


def study(
    kind: str,
    traces: int,
    rng: np.random.Generator,
    settings: Sequence[Setting] = tuple(Setting),
) -> list[Row]:
    """Rows of the table for one kind of noise."""
    batches: dict[Setting, list[Fits]] = {setting: [] for setting in settings}
    for start in range(0, traces, BATCH):
        noise = draw(kind, min(BATCH, traces - start), rng)
        for setting in settings:
            batches[setting].append(fit_traces(noise, setting))
    return [_row(kind, setting, batches[setting], best_sd(kind)) for setting in settings]


def _row(kind: str, setting: Setting, batches: list[Fits], best: float) -> Row:
    error = np.concatenate([batch.error for batch in batches])
    u = np.concatenate([batch.u for batch in batches])
    dof = np.concatenate([batch.dof for batch in batches])
    established = np.concatenate([batch.established for batch in batches])
    half = student.ppf(0.5 * (1.0 + PROBABILITY), dof) * u
    printed = student.ppf(0.5 * (1.0 + PROBABILITY), np.floor(dof)) * u
    held = np.abs(error) <= half
    return Row(
        noise=kind,
        setting=str(setting),
        traces=error.size,
        coverage=float(held.mean()),
        as_printed=float((np.abs(error) <= printed).mean()),
        spread=math.sqrt(float(np.mean(error**2))) / best,
        width=float(np.median(half)) / 1.96 / best,
        warned=1.0 - float(established.mean()),
        ok_or_warned=float((held | ~established).mean()),
        ok_if_not_warned=float(held[established].mean()) if established.any() else math.nan,
    )


def as_markdown(rows: list[Row]) -> str:
    """The table for a reader: one line per kind of noise, the settings side by side."""
    settings = list(dict.fromkeys(row.setting for row in rows))
    lines = [
        "coverage / spread over the best / half-width over the best; w: share of traces warned",
        "",
        "| noise | " + " | ".join(settings) + " | w | held or warned (balanced) |",
        "| --- |" + " --- |" * (len(settings) + 2),
    ]
    for kind in dict.fromkeys(row.noise for row in rows):
        mine = {row.setting: row for row in rows if row.noise == kind}
        cells = [f"{r.coverage:.3f} / {r.spread:.2f} / {r.width:.2f}" for r in mine.values()]
        balanced = mine.get("balanced", next(iter(mine.values())))
        cells += [f"{balanced.warned:.2f}", f"{balanced.ok_or_warned:.3f}"]
        lines.append(f"| {kind} | " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def draw_picture(rows: list[Row], path: Path) -> None:
    """Coverage of each kind of noise and setting, with the interval that chance explains."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    kinds = list(dict.fromkeys(row.noise for row in rows))
    figure = Figure(figsize=(11, 7), layout="constrained")
    left, right = figure.subplots(1, 2, sharey=True, width_ratios=(3, 2))
    marks = {"sharp": ("v", "#8a6d3b"), "balanced": ("o", "#1f4e79"), "safe": ("^", "#6b6b6b")}
    for setting, (mark, colour) in marks.items():
        mine = [row for row in rows if row.setting == setting]
        places = [kinds.index(row.noise) for row in mine]
        left.plot(
            [row.coverage for row in mine],
            places,
            mark,
            color=colour,
            ms=7,
            mfc="none",
            label=setting,
        )
        right.plot([row.width for row in mine], places, mark, color=colour, ms=7, mfc="none")
    slack = 1.96 * math.sqrt(PROBABILITY * (1.0 - PROBABILITY) / rows[0].traces)
    left.axvspan(PROBABILITY - slack, PROBABILITY + slack, color="#d9d9d9", zorder=0)
    left.axvline(0.90, color="black", lw=0.8, ls=":")
    for panel in (left, right):
        for count in (len(SHORT), len(SHORT) + 1 + len(DRIFT) + len(WALK)):
            panel.axhline(count - 0.5, color="black", lw=0.5)
    left.set_yticks(range(len(kinds)), kinds)
    left.invert_yaxis()
    left.set_xlabel("share of 95 % intervals that hold the truth")
    right.set_xlabel("median half-width over the best possible [1]")
    left.legend(title="setting", loc="upper left")
    figure.suptitle(f"Curvature under correlated noise, {rows[0].traces} traces a point")
    FigureCanvasAgg(figure).print_png(str(path))


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the study."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--scans", type=int, default=4000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, default=Path("noise_coverage"))
    options = parser.parse_args(arguments)
    rows: list[Row] = []
    started = time.perf_counter()
    for kind, seed in zip(
        KINDS, np.random.SeedSequence(options.seed).spawn(len(KINDS)), strict=True
    ):
        rows += study(kind, options.scans, np.random.default_rng(seed))
        print("  ".join(f"{r.setting} {r.coverage:.3f}" for r in rows[-3:]), kind, flush=True)
    options.out.mkdir(parents=True, exist_ok=True)
    with (options.out / "noise_coverage.csv").open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow([field.name for field in fields(Row)])
        writer.writerows(
            [f"{cell:.4f}" if isinstance(cell, float) else cell for cell in astuple(row)]
            for row in rows
        )
    table = as_markdown(rows)
    (options.out / "noise_coverage.md").write_text(table, encoding="utf-8")
    draw_picture(rows, options.out / "noise_coverage.png")
    print(f"\n{table}\n{time.perf_counter() - started:.0f} s, written to {options.out}")


if __name__ == "__main__":
    main()
