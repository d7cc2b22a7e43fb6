"""The demo's stack: one wafer under three layers, scanned in four states."""

from __future__ import annotations

from pathlib import Path

from filmstress.simulate.stack import TrueLayer, bending_force, simulate_states
from filmstress.simulate.truth import Truth
from filmstress.simulate.writing import make_directory, write_new, write_scan

FOLDER = "stack"
BASE = Truth(
    substrate="Si(001)",
    azimuth_reference="[110]",
    substrate_thickness_m=674.3e-6,
    diameter_m=150e-3,
    stress_x_pa=0.0,
    film_thickness_m=1e-9,
    scan_length_m=120e-3,
    points=1001,
    bare_bow_m=6.2e-6,
    bare_cubic_share=0.05,
    waviness_rms_m=60e-9,
    waviness_length_m=0.8e-3,
    stage_rms_m=20e-9,
    stage_length_m=30e-3,
    stage_seed=3,
    white_noise_m=4e-9,
    correlated_noise_m=6e-9,
    correlation_length_m=1e-3,
    bow_repeatability_m=15e-9,
    offset_repeatability_m=150e-6,
    position_scale=1.0003,
    height_scale=0.9992,
    seed=2501,
)
# Moduli over that of Si(001), 180.3 GPa.
OXIDE = TrueLayer(-281e6, 503e-9, 0.48)
NITRIDE = TrueLayer(412e6, 198.5e-9, 1.16)
ANNEALED_OXIDE_PA = -233e6

STATES = ("bare", "oxide", "nitride", "anneal")
FILE = """\
name = "S25-01"

[substrate]
material = "Si(001)"
azimuth_reference = "[110]"
diameter = "150 mm"
thickness = "675 um ± 1 um"

[scan]
support = "three-points"
support_radius = "60 mm ± 0.5 mm"
support_azimuth = "30 deg"
position_scale_uncertainty = "0.05 %"
height_scale_uncertainty = "0.1 %"
bow_repeatability = "15 nm"
offset_repeatability = "150 um"

[[state]]
name = "bare"
scans = [{ azimuth = "0 deg", file = "bare-000.csv" }]

[[state]]
name = "oxide"
scans = [{ azimuth = "0 deg", file = "oxide-000.csv" }]
[state.layer]
material = "silicon oxide"
thickness = "500 nm ± 1 %"
face = "up"
modulus = "87 GPa ± 4 GPa"
expansion = "0.5 ppm/K ± 0.1 ppm/K"
deposited_at = "400 degC ± 5 degC"
measured_at = "22 degC ± 1 degC"

[[state]]
name = "nitride"
scans = [{ azimuth = "0 deg", file = "nitride-000.csv" }]
layer = { material = "silicon nitride", thickness = "200 nm ± 1 %", modulus = "210 GPa ± 10 GPa" }

# No layer comes: the change is that of the oxide.
[[state]]
name = "anneal"
changes = "oxide"
scans = [{ azimuth = "0 deg", file = "anneal-000.csv" }]

# Planned, not scanned: its stress is stated, and the bow predicted.
[[state]]
name = "back oxide"
layer = { material = "silicon oxide", thickness = "400 nm ± 1 %", face = "down", \
stress = "-280 MPa ± 14 MPa", modulus = "87 GPa ± 4 GPa" }

[balance]
target_bow = "0 um"
layer = { material = "silicon nitride", stress = "-300 MPa ± 9 MPa", face = "up" }
"""
TRUTH = f"""\
# What the scans of this stack were drawn from: SI units, in the names.
substrate_thickness_m = {BASE.substrate_thickness_m!r}
bare_bow_m = {BASE.bare_bow_m!r}

[oxide]
stress_pa = {OXIDE.stress_pa!r}
stress_after_anneal_pa = {ANNEALED_OXIDE_PA!r}
thickness_m = {OXIDE.thickness_m!r}

[nitride]
stress_pa = {NITRIDE.stress_pa!r}
thickness_m = {NITRIDE.thickness_m!r}
"""


def bending_forces() -> list[float]:
    """What bends the wafer in each of `STATES` [N/m]."""
    h = BASE.substrate_thickness_m
    oxide = bending_force([OXIDE], 0, substrate_thickness_m=h)
    nitride = bending_force([OXIDE, NITRIDE], 1, substrate_thickness_m=h)
    # The same film with the change of its stress.
    change = TrueLayer(ANNEALED_OXIDE_PA - OXIDE.stress_pa, OXIDE.thickness_m, OXIDE.modulus_ratio)
    anneal = bending_force([change, NITRIDE], 0, substrate_thickness_m=h)
    return [0.0, oxide, oxide + nitride, oxide + nitride + anneal]


def write_stack(root: Path) -> list[Path]:
    """Draw the stack into a new folder of the demo; every call writes the same bytes.

    Raises
    ------
    RefusedInput
        The folder cannot be written to.
    """
    folder = root / FOLDER
    make_directory(folder)
    written = [folder / "stack.toml", folder / "layers.toml"]
    for path, text in zip(written, (FILE, TRUTH), strict=True):
        write_new(path, text)
    for name, trace in zip(STATES, simulate_states(BASE, bending_forces()), strict=True):
        path = folder / f"{name}-000.csv"
        write_scan(trace.x, trace.z, path)
        written.append(path)
    return written
