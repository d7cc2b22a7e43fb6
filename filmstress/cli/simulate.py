"""``filmstress simulate``: scans drawn from a stated truth."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from filmstress.cli.output import say, show, show_json
from filmstress.cli.sizes import count_option, one_value
from filmstress.cli.sizes import size_option as _size

if TYPE_CHECKING:
    from filmstress.units.dimensions import Dimension

_WAFER, _SCANS, _FILES = "Wafer and film", "Scans", "Files"
_NOTABLE = 0.003  # stiffening of a real plate over the linear one that is worth a note


def _count(flag: str, text: str, low: int, high: int) -> typer.models.OptionInfo:
    return count_option(flag, text, low, high, _SCANS)


# Option -> field of the truth, its dimension, its plausible range [SI], how it is written.
_SIZES: dict[str, tuple[str, Dimension, float, float, str]] = {
    "--substrate-thickness": ("substrate_thickness_m", "length", 1e-5, 1e-2, "675 um"),
    "--diameter": ("diameter_m", "length", 5e-3, 0.5, "150 mm"),
    "--stress": ("stress_x_pa", "stress", -2e10, 2e10, "-150 MPa"),
    "--stress-across": ("stress_y_pa", "stress", -2e10, 2e10, "120 MPa"),
    "--stress-rise": ("film_radial_share", "relative", -2.0, 2.0, "20 %"),
    "--film-thickness": ("film_thickness_m", "length", 1e-10, 1e-3, "500 nm"),
    "--bare-bow": ("bare_bow_m", "length", -5e-3, 5e-3, "-5 um"),
    "--waviness": ("waviness_rms_m", "length", 0.0, 1e-4, "50 nm"),
    "--waviness-length": ("waviness_length_m", "length", 1e-5, 0.1, "3 mm"),
    "--length": ("scan_length_m", "length", 1e-3, 0.5, "120 mm"),
    "--noise": ("white_noise_m", "length", 0.0, 1e-4, "5 nm"),
    "--drift": ("correlated_noise_m", "length", 0.0, 1e-4, "5 nm"),
    "--drift-length": ("correlation_length_m", "length", 1e-5, 1.0, "5 mm"),
    "--straightness": ("stage_rms_m", "length", 0.0, 1e-4, "20 nm"),
    "--azimuth": ("azimuths_rad", "angle", -12.6, 12.6, "90 deg"),
    "--offset": ("lateral_offset_m", "length", -0.02, 0.02, "0.3 mm"),
    "--tilt": ("tilt_rad", "angle", -0.1, 0.1, "1e-4 rad"),
}


def simulate(
    directory: Annotated[
        str,
        typer.Argument(metavar="DIR", help="Folder to write into; nothing in it is written over."),
    ],
    substrate: Annotated[
        str,
        typer.Option(
            "--substrate", metavar="NAME(hkl)", help="Material and cut.", rich_help_panel=_WAFER
        ),
    ] = "Si(001)",
    azimuth_reference: Annotated[
        str | None,
        typer.Option(
            "--azimuth-reference",
            metavar="[uvw]",
            help="Crystal direction of azimuth 0.",
            rich_help_panel=_WAFER,
        ),
    ] = None,
    substrate_thickness: Annotated[
        str, _size("--substrate-thickness", "Of the bare wafer.", _WAFER)
    ] = "675 um",
    diameter: Annotated[str, _size("--diameter", "Of the wafer.", _WAFER)] = "150 mm",
    stress: Annotated[
        str, _size("--stress", "Mean stress the film carries; tension positive.", _WAFER)
    ] = "200 MPa",
    stress_across: Annotated[
        str | None, _size("--stress-across", "Across azimuth 0, where it differs.", _WAFER)
    ] = None,
    stress_rise: Annotated[
        str,
        _size("--stress-rise", "From centre to rim, relative to the mean over the wafer.", _WAFER),
    ] = "0 %",
    film_thickness: Annotated[str, _size("--film-thickness", "Of the film.", _WAFER)] = "500 nm",
    film_face: Annotated[
        str,
        typer.Option(
            "--film-face", metavar="up|down", help="Scanned face or not.", rich_help_panel=_WAFER
        ),
    ] = "up",
    bare_bow: Annotated[
        str, _size("--bare-bow", "Bow of the bare wafer over the scan.", _WAFER)
    ] = "5 um",
    waviness: Annotated[str, _size("--waviness", "Of the wafer's face, rms.", _WAFER)] = "50 nm",
    waviness_length: Annotated[
        str, _size("--waviness-length", "Its correlation length.", _WAFER)
    ] = "3 mm",
    azimuth: Annotated[
        list[str] | None,
        typer.Option(
            "--azimuth",
            metavar="QUANTITY",
            help="Direction of a line; may be given several times.  [default: 0 deg]",
            rich_help_panel=_SCANS,
        ),
    ] = None,
    length: Annotated[str, _size("--length", "Of the scan.", _SCANS)] = "120 mm",
    points: Annotated[int, _count("--points", "Of each scan.", 20, 10_000_000)] = 4001,
    repeats: Annotated[int, _count("--repeats", "Scans of each line.", 1, 100)] = 1,
    noise: Annotated[str, _size("--noise", "White, standard deviation.", _SCANS)] = "5 nm",
    drift: Annotated[str, _size("--drift", "Correlated, standard deviation.", _SCANS)] = "5 nm",
    drift_length: Annotated[
        str, _size("--drift-length", "Its correlation length.", _SCANS)
    ] = "5 mm",
    straightness: Annotated[
        str, _size("--straightness", "Of the stage, rms; alike in every scan.", _SCANS)
    ] = "0 nm",
    offset: Annotated[
        str, _size("--offset", "Of the scan after against the one before.", _SCANS)
    ] = "0 mm",
    tilt: Annotated[str, _size("--tilt", "Of the scan after.", _SCANS)] = "0 rad",
    reversed_: Annotated[
        bool,
        typer.Option(
            "--reversed", help="Take the scan after from the other end.", rich_help_panel=_SCANS
        ),
    ] = False,
    weigh: Annotated[
        list[str] | None,
        typer.Option(
            "--weigh",
            metavar="SUPPORT",
            help='Scan the bare wafer on this support besides: rim, centre, "three-points 50 mm"; '
            "given twice, its weight can calibrate.",
            rich_help_panel=_SCANS,
        ),
    ] = None,
    dust: Annotated[int, _count("--dust", "Particles on each scan.", 0, 10_000)] = 0,
    dropouts: Annotated[int, _count("--dropouts", "Blank cells in each scan.", 0, 1_000_000)] = 0,
    seed: Annotated[
        int,
        typer.Option(
            "--seed",
            metavar="N",
            min=0,
            help="The same number draws the same scans.",
            rich_help_panel=_FILES,
        ),
    ] = 0,
    style: Annotated[
        str,
        typer.Option(
            "--style",
            metavar="plain|semicolon|tab|headed|interval",
            help="How the files are laid out.",
            rich_help_panel=_FILES,
        ),
    ] = "plain",
    json: Annotated[
        bool, typer.Option("--json", help="One JSON object that lists the files written.")
    ] = False,
) -> None:
    """Write scans before and after deposition, drawn from a known truth, and that truth.

    Example: filmstress simulate trial --stress "-150 MPa" --film-thickness "300 nm" --dust 5
    """
    from dataclasses import asdict

    from filmstress.errors import RefusedInput
    from filmstress.inputs.readers import Choice, read_value
    from filmstress.records.wafer import Face
    from filmstress.report.quantities import headed
    from filmstress.simulate.shape import stiffening_left_out
    from filmstress.simulate.truth import ScanConditions, Truth
    from filmstress.simulate.writing import write_pair
    from filmstress.version import VERSION

    sizes: dict[str, Any] = {
        _SIZES[flag][0]: _read(flag, text)
        for flag, text in (
            ("--substrate-thickness", substrate_thickness),
            ("--diameter", diameter),
            ("--stress", stress),
            ("--stress-rise", stress_rise),
            ("--film-thickness", film_thickness),
            ("--bare-bow", bare_bow),
            ("--waviness", waviness),
            ("--waviness-length", waviness_length),
            ("--length", length),
            ("--noise", noise),
            ("--drift", drift),
            ("--drift-length", drift_length),
            ("--straightness", straightness),
        )
    }
    try:
        truth = Truth(
            substrate=substrate,
            azimuth_reference=azimuth_reference,
            face=Face(str(read_value(film_face, Choice(("up", "down")), where="--film-face"))),
            stress_y_pa=None if stress_across is None else _read("--stress-across", stress_across),
            azimuths_rad=tuple(_read("--azimuth", text) for text in azimuth or ["0 deg"]),
            points=points,
            weighed_on=tuple(weigh or ()),
            seed=seed,
            pre=ScanConditions(dust_count=dust, blank_count=dropouts),
            post=ScanConditions(
                dust_count=dust,
                blank_count=dropouts,
                lateral_offset_m=_read("--offset", offset),
                tilt_rad=_read("--tilt", tilt),
                reversed=reversed_,
            ),
            **sizes,
        )
        files = write_pair(truth, directory, style=style, repeats=repeats)
    except RefusedInput as error:
        flags = {field: flag for flag, (field, *_) in _SIZES.items()} | {
            "style": "--style",
            "weighed_on": "--weigh",
        }
        error.where = flags.get(error.where, error.where)
        raise
    if json:
        show_json(
            {**headed("simulate", VERSION), "files": [str(path) for path in files]}, asdict(truth)
        )
        return
    say(f"{len(files)} files written; truth.toml holds what they were drawn from")
    if abs(left := stiffening_left_out(truth)) > _NOTABLE:
        say(
            f"note: these scans are of a linear plate; so large a bow stiffens a real one by about "
            f"{100 * left:.2g} %, and measure, which corrects for that, reads as much more"
        )
    show("\n".join(map(str, files)))


def _read(flag: str, text: str) -> float:
    """A size of the truth in SI; a truth has no uncertainty."""
    return one_value(flag, text, _SIZES[flag][1:])
