"""The scenario of the demo: three lots of two recipes from a pilot line that we made up."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from filmstress.simulate.truth import ScanConditions, Truth


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoWafer:
    """One wafer: its stress, how its files are laid out, and what went wrong with its scans."""

    id: str
    stress_mpa: tuple[float, float]
    styles: tuple[str, str] = ("plain", "plain")
    pre: ScanConditions = field(default_factory=ScanConditions)
    post: ScanConditions = field(default_factory=ScanConditions)


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoLot:
    """One lot.

    Attributes
    ----------
    name : str
        Also of its folder.
    head : str
        The lot file up to its wafers; ``{film_thickness}`` is filled in where the lot states one.
    base : Truth
        What all wafers share; stress, thicknesses, bow and seed are set for each.
    substrate_u_um, film_u_nm : float
        Standard uncertainty of the stated thicknesses: the stated value is the true one plus an
        error drawn with it.
    film_of_each_wafer : bool
        Whether the film thickness is stated for each wafer (in wafers.csv) or once for the lot.
    wafers : tuple of DemoWafer
    seed : int
    """

    name: str
    head: str
    base: Truth
    substrate_u_um: float
    film_u_nm: float
    film_of_each_wafer: bool
    wafers: tuple[DemoWafer, ...]
    seed: int


_DUSTY = ScanConditions(dust_count=6, dust_height_m=3e-6, dust_width_m=400e-6)

_NITRIDE = Truth(
    substrate="Si(001)",
    azimuth_reference="[110]",
    substrate_thickness_m=675e-6,
    diameter_m=150e-3,
    stress_x_pa=190e6,
    film_thickness_m=500e-9,
    azimuths_rad=(0.0, 0.5 * math.pi),
    scan_length_m=120e-3,
    points=1501,
    bare_cubic_share=0.05,
    waviness_rms_m=60e-9,
    waviness_length_m=0.8e-3,
    stage_rms_m=40e-9,
    stage_length_m=30e-3,
    stage_seed=1,
    white_noise_m=4e-9,
    correlated_noise_m=6e-9,
    correlation_length_m=1e-3,
    bow_repeatability_m=15e-9,
    offset_repeatability_m=150e-6,
    position_scale=1.0003,
    height_scale=0.9992,
)

_NITRIDE_HEAD = """\
lot = "{lot}"
recipe = "nitride-tensile-500"

[substrate]
material = "Si(001)"
azimuth_reference = "[110]"
diameter = "150 mm"

[film]
material = "silicon nitride"
thickness = "{{film_thickness}}"
face = "up"

[scan]
support = "three-points"
support_radius = "60 mm ± 0.5 mm"
support_azimuth = "30 deg"
position_scale_uncertainty = "0.05 %"
height_scale_uncertainty = "0.1 %"
bow_repeatability = "15 nm"
offset_repeatability = "150 um"

[specification]
lower = "150 MPa"
upper = "230 MPa"

[deposition]
tool = "plasma chamber 2"
date = "{date}"
pressure = "{pressure} mTorr"
power = "120 W"
"""

_MOLYBDENUM = Truth(
    substrate="Si(111)",
    azimuth_reference="[1-10]",
    substrate_thickness_m=525e-6,
    diameter_m=100e-3,
    stress_x_pa=-560e6,
    film_thickness_m=200e-9,
    scan_length_m=80e-3,
    points=1001,
    first_x_m=10e-3,
    bare_cubic_share=0.05,
    waviness_rms_m=80e-9,
    waviness_length_m=0.7e-3,
    stage_rms_m=10e-9,
    stage_length_m=20e-3,
    stage_seed=2,
    white_noise_m=6e-9,
    correlated_noise_m=5e-9,
    correlation_length_m=0.6e-3,
    bow_repeatability_m=10e-9,
    offset_repeatability_m=100e-6,
    position_scale=0.9998,
    height_scale=1.0011,
)

_MOLYBDENUM_HEAD = """\
lot = "M24-11"
recipe = "molybdenum-cold-200"
wafers = "wafers.csv"

[substrate]
material = "Si(111)"
azimuth_reference = "[1-10]"
diameter = "100 mm"

[film]
material = "molybdenum"

[scan]
support = "rim"
origin = "-50 mm"
position_scale_uncertainty = "0.05 %"
height_scale_uncertainty = "0.1 %"
bow_repeatability = "10 nm"
offset_repeatability = "100 um"

[specification]
lower = "-620 MPa"
upper = "-480 MPa"

[deposition]
tool = "sputter chamber 5"
date = "2024-11-05"
pressure = "0.4 Pa"
power = "1.5 kW"
"""

LOTS: tuple[DemoLot, ...] = (
    DemoLot(
        name="N24-03",
        head=_NITRIDE_HEAD.format(lot="N24-03", date="2024-03-12", pressure=650),
        base=_NITRIDE,
        substrate_u_um=1.0,
        film_u_nm=4.0,
        film_of_each_wafer=False,
        wafers=(
            DemoWafer(id="01", stress_mpa=(188.0, 188.0)),
            DemoWafer(id="02", stress_mpa=(192.0, 191.0), styles=("tab", "tab")),
            DemoWafer(id="03", stress_mpa=(185.0, 185.0), styles=("headed", "plain"), post=_DUSTY),
            DemoWafer(id="04", stress_mpa=(194.0, 194.0), styles=("semicolon", "semicolon")),
        ),
        seed=2403,
    ),
    DemoLot(
        name="N24-04",
        head=_NITRIDE_HEAD.format(lot="N24-04", date="2024-04-09", pressure=700),
        base=_NITRIDE,
        substrate_u_um=1.0,
        film_u_nm=4.0,
        film_of_each_wafer=False,
        wafers=(
            DemoWafer(id="01", stress_mpa=(219.0, 219.0), styles=("interval", "interval")),
            DemoWafer(id="02", stress_mpa=(232.0, 212.0)),
            DemoWafer(id="03", stress_mpa=(229.0, 229.0)),
        ),
        seed=2404,
    ),
    DemoLot(
        name="M24-11",
        head=_MOLYBDENUM_HEAD,
        base=_MOLYBDENUM,
        substrate_u_um=1.0,
        film_u_nm=2.0,
        film_of_each_wafer=True,
        wafers=(
            DemoWafer(id="A", stress_mpa=(-548.0, -548.0), styles=("semicolon", "plain")),
            DemoWafer(
                id="B",
                stress_mpa=(-561.0, -561.0),
                post=ScanConditions(blank_count=12, wild_count=3),
            ),
            DemoWafer(id="C", stress_mpa=(-572.0, -572.0), post=ScanConditions(reversed=True)),
            DemoWafer(id="D", stress_mpa=(-668.0, -668.0)),
        ),
        seed=2411,
    ),
)

README = """\
# Demo lots

Three lots of two recipes from a pilot line that does not exist.  Every file was drawn from a known
truth, which lies beside it as `truth.toml`: SI units, the true stress and thicknesses of every
wafer, the true curvature change of every line.  The thicknesses in the lot files are what a gauge
with the stated uncertainty would have said.  All of it can be drawn anew, byte for byte.

- `N24-03`: silicon nitride, 500 nm, on 150 mm Si(001); four wafers, two lines each; 185 to
  194 MPa, tensile; limits 150 to 230 MPa.  A good lot.  Dust fell on wafer 03 after deposition,
  and the files come in four layouts.
- `N24-04`: the same recipe at a higher pressure; three wafers, 219 to 229 MPa.  Wafer 03 is so
  near the limit that the data cannot decide, and the two lines of wafer 02 differ.
- `M24-11`: molybdenum, 200 nm, on 100 mm Si(111); four wafers, one line each; -548 to -668 MPa,
  compressive; limits -620 to -480 MPa.  Wafer D is outside.  The second scan of wafer C ran from
  the other end, and that of wafer B has missing and wild points.  The wafers stand in
  `wafers.csv`, and the heights of wafer A come in nanometres before and micrometres after.
- `stack`: one wafer, scanned bare, under an oxide, under a nitride on it, and annealed; a layer on
  its back that is only planned, and one that would balance the bow.  `layers.toml` holds the truth.
- `step`: two scans across grooves that were etched through a film of 203.4 nm, for its thickness.
"""
