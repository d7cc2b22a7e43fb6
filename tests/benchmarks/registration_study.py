"""How well a scan is found on another one, and what the match says, under many conditions.

    python -m tests.benchmarks.registration_study [--pairs 1000] [--seed 1] [--out DIR]

Writes registration_study.csv, registration_study.md and registration_study.png, and prints the
table.  For each kind of pair:

found       share of the pairs whose offset is determined, in the right direction and within
            0.2 mm or five standard uncertainties of the truth
wrong       share determined, but not so
low         share with a match below LOW_MATCH (or without texture)
over half   share with a match above 0.5
match       5 %, 50 % and 95 % quantiles of the match
error, u    medians of the error's size and of the standard uncertainty over the pairs found [um]
scatter     root mean square of error over u over the pairs found
covered     share of the pairs found whose 95 % interval holds the truth
"""

from __future__ import annotations

import argparse
import csv
import time
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np
from scipy.stats import t as student

from filmstress.scans.registration import LOW_MATCH, SAME_PLACE, register
from tests.benchmarks.registration_pairs import Kind, draw_pair

SAME = Kind()
LINE = Kind(same_m=90e-9, other_m=44e-9)
FAR_LINE = Kind(same_m=70e-9, other_m=71e-9)
OTHER = Kind(same_m=0.0, other_m=100e-9)


def _with_stage(kind: Kind) -> Kind:
    return replace(kind, stage_m=100e-9)


KINDS: dict[str, tuple[Kind, bool]] = {
    "same line": (SAME, False),
    "same line, datum known": (SAME, True),
    "same line, waviness 1 mm": (replace(SAME, length_m=1e-3), False),
    "same line, waviness 4 mm": (replace(SAME, length_m=4e-3), False),
    "same line, rough": (replace(SAME, spectrum="rough"), False),
    "same line, power law": (replace(SAME, spectrum="power"), False),
    "same line, white noise 20 %": (replace(SAME, white_m=20e-9), False),
    "same line, correlated noise 5 %": (replace(SAME, correlated_m=5e-9), False),
    "same line, correlated noise 20 %": (replace(SAME, correlated_m=20e-9), False),
    "same line, in its place, drift": (
        replace(
            SAME,
            scan_m=120e-3,
            length_m=3e-3,
            white_m=10e-9,
            correlated_m=10e-9,
            offset_m=0.0,
            reversed_share=0.0,
        ),
        False,
    ),
    "same line, 200 points": (replace(SAME, points=200), False),
    "same line, 300 mm": (replace(SAME, scan_m=300e-3, points=10000), False),
    "same line, 30 mm": (replace(SAME, scan_m=30e-3, points=3000), False),
    "same line, wavy stage": (_with_stage(SAME), False),
    "same line, wavy stage, waviness 1 mm": (_with_stage(replace(SAME, length_m=1e-3)), False),
    "same line, wavy stage, rough": (_with_stage(replace(SAME, spectrum="rough")), False),
    "same line, wavy stage, power law": (_with_stage(replace(SAME, spectrum="power")), False),
    "same line, wavy stage, 0.1 mm": (
        replace(_with_stage(SAME), offset_m=1e-4, reversed_share=0.0),
        False,
    ),
    "same line, wavy stage, 0.5 mm": (
        replace(_with_stage(SAME), offset_m=5e-4, reversed_share=0.0),
        False,
    ),
    "same line, weak stage, 0.5 mm": (
        replace(SAME, stage_m=30e-9, offset_m=5e-4, reversed_share=0.0),
        False,
    ),
    "line beside, correlation 0.8": (LINE, False),
    "line beside, 0.8, datum known": (LINE, True),
    "line farther off, correlation 0.5": (FAR_LINE, False),
    "line farther off, 0.5, datum known": (FAR_LINE, True),
    "other wafer": (OTHER, False),
    "other wafer, datum known": (OTHER, True),
    "other wafer, wavy stage": (_with_stage(OTHER), False),
    "other wafer, wavy stage, waviness 1 mm": (_with_stage(replace(OTHER, length_m=1e-3)), False),
    "other wafer, wavy stage, waviness 4 mm": (_with_stage(replace(OTHER, length_m=4e-3)), False),
    "other wafer, wavy stage, rough": (_with_stage(replace(OTHER, spectrum="rough")), False),
    "other wafer, wavy stage, power law": (_with_stage(replace(OTHER, spectrum="power")), False),
    "other wafer, wavy stage, 30 mm": (
        _with_stage(replace(OTHER, scan_m=30e-3, points=3000)),
        False,
    ),
    "same line, waviness 12 mm": (replace(SAME, length_m=12e-3), False),
    "other wafer, waviness 5 mm": (replace(OTHER, length_m=5e-3), False),
    "other wafer, waviness 12 mm": (replace(OTHER, length_m=12e-3), False),
    "other wafer, waviness 20 mm": (replace(OTHER, length_m=20e-3), False),
    "no waviness": (Kind(same_m=0.0), False),
}


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    kind: str
    pairs: int
    texture: float
    found: float
    wrong: float
    low: float
    over_half: float
    match_05: float
    match_50: float
    match_95: float
    error_um: float
    u_um: float
    scatter: float
    covered: float


def study(name: str, *, pairs: int, seed: int) -> Row:
    """Register many pairs of one kind."""
    kind, datum_known = KINDS[name]
    rng = np.random.default_rng([seed, *name.encode()])
    results, errors, right = [], [], []
    for _ in range(pairs):
        pair = draw_pair(kind, rng)
        stage = None if datum_known else SAME_PLACE
        found = register(pair.x, pair.z_pre, pair.x, pair.z_post, stage=stage)
        error = found.offset_m - pair.offset_m
        results.append(found)
        errors.append(error)
        right.append(
            found.determined
            and found.reversed == pair.reversed
            and abs(error) < max(0.2e-3, 5.0 * found.u_offset_m)
        )
    match = np.array([found.match for found in results])
    determined = np.array([found.determined for found in results])
    ok = np.array(right)
    error = np.array(errors)[ok]
    u = np.array([found.u_offset_m for found in results])[ok]
    dof = np.array([found.dof for found in results])[ok]
    any_found = bool(ok.any())
    return Row(
        kind=name,
        pairs=pairs,
        texture=float(np.mean([found.texture for found in results])),
        found=float(ok.mean()),
        wrong=float(np.mean(determined & ~ok)),
        low=float(np.mean(match < LOW_MATCH)),
        over_half=float(np.mean(match > 0.5)),
        match_05=float(np.quantile(match, 0.05)),
        match_50=float(np.quantile(match, 0.5)),
        match_95=float(np.quantile(match, 0.95)),
        error_um=float(np.median(np.abs(error)) * 1e6) if any_found else float("nan"),
        u_um=float(np.median(u) * 1e6) if any_found else float("nan"),
        scatter=float(np.sqrt(np.mean((error / u) ** 2))) if any_found else float("nan"),
        covered=float(np.mean(np.abs(error) <= student.ppf(0.975, dof) * u))
        if any_found
        else float("nan"),
    )


def as_markdown(rows: list[Row]) -> str:
    """The table for reading."""
    head = (
        "| kind | texture | found | wrong | low | over half | match 5/50/95 % "
        "| error / u [um] | scatter | covered |\n" + "|---" * 10 + "|\n"
    )
    lines = []
    for r in rows:
        placed = (
            f"{r.error_um:.2g} / {r.u_um:.2g} | {r.scatter:.2f} | {r.covered:.3f}"
            if r.found > 0.05
            else "- | - | -"
        )
        lines.append(
            f"| {r.kind} | {r.texture:.3f} | {r.found:.3f} | {r.wrong:.3f} | {r.low:.3f} "
            f"| {r.over_half:.3f} | {r.match_05:.2f} / {r.match_50:.2f} / {r.match_95:.2f} "
            f"| {placed} |"
        )
    return head + "\n".join(lines) + "\n"


def draw(rows: list[Row], path: Path) -> None:
    """Match and found share of every kind, as a picture."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(11.0, 0.3 * len(rows) + 1.4), layout="constrained")
    FigureCanvasAgg(figure)
    left, right = figure.subplots(1, 2, sharey=True, width_ratios=(3, 2))
    at = np.arange(len(rows))[::-1]
    left.hlines(at, [r.match_05 for r in rows], [r.match_95 for r in rows], color="0.55", lw=5)
    left.plot([r.match_50 for r in rows], at, "k|", ms=11, mew=2)
    left.axvline(LOW_MATCH, color="0.2", ls="--", lw=1)
    left.text(LOW_MATCH, len(rows) - 0.4, "LOW_MATCH", ha="center", fontsize=8, backgroundcolor="w")
    left.set(xlabel="match (5 % to 95 %, median)", xlim=(-0.03, 1.03))
    left.set_yticks(at, [r.kind for r in rows], fontsize=8)
    right.barh(at + 0.18, [r.found for r in rows], 0.34, color="0.45", label="found")
    right.barh(at - 0.18, [r.wrong for r in rows], 0.34, color="0.8", label="wrong", ec="0.3")
    covered = [r.covered if r.found > 0.05 else float("nan") for r in rows]
    right.plot(covered, at + 0.18, "k.", ms=5, label="covered by 95 % interval")
    right.set(xlabel="share of the pairs", xlim=(0.0, 1.03), ylim=(-0.7, len(rows) + 0.4))
    right.legend(fontsize=8, loc="lower center")
    for axes in (left, right):
        axes.grid(axis="x", color="0.9")
        axes.set_axisbelow(True)
    figure.savefig(path, dpi=110)


def main() -> None:
    """Run the study from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pairs", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path)
    options = parser.parse_args()
    begin = time.perf_counter()
    rows = [study(name, pairs=options.pairs, seed=options.seed) for name in KINDS]
    table = as_markdown(rows)
    print(table)
    print(f"{options.pairs} pairs a kind, {time.perf_counter() - begin:.0f} s")
    if options.out is not None:
        options.out.mkdir(parents=True, exist_ok=True)
        (options.out / "registration_study.md").write_text(table, encoding="utf-8")
        with (options.out / "registration_study.csv").open("w", newline="") as file:
            writer = csv.DictWriter(file, fieldnames=list(asdict(rows[0])))
            writer.writeheader()
            writer.writerows(asdict(row) for row in rows)
        draw(rows, options.out / "registration_study.png")


if __name__ == "__main__":
    main()
