"""Pairs of scans with a known change of curvature, written plainly."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np

Shape = Callable[[np.ndarray], np.ndarray]

LENGTH_M = 0.08
POINTS = 2001


def waviness(seed: int, rms_m: float = 60e-9, shortest_m: float = 1e-3) -> Shape:
    """A smooth random shape as a sum of cosines, exact at any position."""
    rng = np.random.default_rng(seed)
    waves = rng.uniform(1.0 / (8.0 * shortest_m), 1.0 / shortest_m, 40)
    phases = rng.uniform(0.0, 2.0 * np.pi, 40)
    sizes = rng.normal(size=40)
    sizes *= rms_m / np.sqrt(0.5 * np.sum(sizes**2))
    return lambda x: np.cos(2.0 * np.pi * np.outer(x, waves) + phases) @ sizes


def write_scan(path: Path, x_m: np.ndarray, z_m: np.ndarray) -> str:
    lines = [f"{x * 1e3:.6f},{z * 1e6:.6f}" for x, z in zip(x_m, z_m, strict=True)]
    path.write_text("x [mm],z [um]\n" + "\n".join(lines) + "\n", encoding="utf-8")
    return str(path)


def write_pair(
    folder: Path,
    *,
    change_per_m: float,
    seed: int = 1,
    noise_m: float = 2e-9,
    offset_m: float = 0.0,
    backwards: bool = False,
    bare: Shape | None = None,
    sag_pre: Shape | None = None,
    sag_post: Shape | None = None,
    length_m: float = LENGTH_M,
    post_seed: int | None = None,
) -> tuple[str, str]:
    """A scan before and one after, the wafer's curvature changed by ``change_per_m``.

    ``offset_m``: a post point at x lies on the wafer at x + offset.
    """
    rng = np.random.default_rng([seed, 99])
    x = np.linspace(-length_m / 2, length_m / 2, POINTS)
    before, after = waviness(seed), waviness(seed if post_seed is None else post_seed)
    shape = bare or (lambda at: 0.5 * 0.002 * at**2)
    z_pre = before(x) + shape(x) + (sag_pre(x) if sag_pre else 0.0)
    at = (offset_m - x) if backwards else (offset_m + x)
    z_post = after(at) + shape(at) + 0.5 * change_per_m * at**2
    z_post = z_post + (sag_post(at) if sag_post else 0.0)
    # Tilt and height differ from scan to scan, as they do on every stage.
    z_post = z_post + 3e-6 + 2e-5 * x
    noise = rng.normal(scale=noise_m, size=(2, x.size))
    tag = f"{seed}-{abs(hash((change_per_m, offset_m, backwards))) % 10**6}"
    pre = write_scan(folder / f"pre-{tag}.csv", x + length_m / 2, z_pre + noise[0])
    post = write_scan(folder / f"post-{tag}.csv", x + length_m / 2, z_post + noise[1])
    return pre, post
