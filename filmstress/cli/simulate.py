"""``filmstress simulate``: scans drawn from a stated truth."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli.output import say, show, show_json

Quantity = str


def _q(flag: str, text: str, panel: str) -> typer.models.OptionInfo:
    option: typer.models.OptionInfo = typer.Option(
        flag, metavar="QUANTITY", help=text, rich_help_panel=panel
    )
    return option


def simulate(
    directory: Annotated[str, typer.Argument(metavar="DIR", help="New or empty folder.")],
    substrate: Annotated[
        str, typer.Option("--substrate", help="Material and cut.", rich_help_panel="Wafer and film")
    ] = "Si(001)",
    azimuth_reference: Annotated[
        str | None,
        typer.Option(
            "--azimuth-reference",
            help="Crystal direction of the 0 deg scan.",
            rich_help_panel="Wafer and film",
        ),
    ] = None,
    substrate_thickness: Annotated[
        Quantity, _q("--substrate-thickness", "Of the bare wafer.", "Wafer and film")
    ] = "675 um",
    diameter: Annotated[Quantity, _q("--diameter", "Of the wafer.", "Wafer and film")] = "150 mm",
    stress: Annotated[
        Quantity,
        _q("--stress", "Mean stress the film carries; tension positive.", "Wafer and film"),
    ] = "200 MPa",
    stress_across: Annotated[
        Quantity | None,
        _q("--stress-across", "Across azimuth 0, where it differs.", "Wafer and film"),
    ] = None,
    film_thickness: Annotated[
        Quantity, _q("--film-thickness", "Of the film.", "Wafer and film")
    ] = ("500 nm"),
    film_face: Annotated[
        str,
        typer.Option(
            "--film-face", metavar="up|down", help="Face.", rich_help_panel="Wafer and film"
        ),
    ] = "up",
    bare_bow: Annotated[
        Quantity, _q("--bare-bow", "Bow of the bare wafer over the scan.", "Wafer and film")
    ] = "5 um",
    waviness: Annotated[
        Quantity, _q("--waviness", "Of the wafer's face, rms.", "Wafer and film")
    ] = "50 nm",
    waviness_length: Annotated[
        Quantity, _q("--waviness-length", "Its correlation length.", "Wafer and film")
    ] = "3 mm",
    azimuth: Annotated[
        list[str] | None,
        typer.Option(
            "--azimuth",
            metavar="QUANTITY",
            help="Direction of a line; may be given several times. Default 0 deg.",
            rich_help_panel="Scans",
        ),
    ] = None,
    length: Annotated[Quantity, _q("--length", "Of the scan.", "Scans")] = "120 mm",
    points: Annotated[
        int, typer.Option("--points", min=20, help="Of each scan.", rich_help_panel="Scans")
    ] = 4001,
    repeats: Annotated[
        int, typer.Option("--repeats", min=1, help="Of each line.", rich_help_panel="Scans")
    ] = 1,
    noise: Annotated[Quantity, _q("--noise", "White, standard deviation.", "Scans")] = "5 nm",
    drift: Annotated[
        Quantity, _q("--drift", "Correlated noise, standard deviation.", "Scans")
    ] = "5 nm",
    drift_length: Annotated[
        Quantity, _q("--drift-length", "Its correlation length.", "Scans")
    ] = "5 mm",
    straightness: Annotated[
        Quantity, _q("--straightness", "Of the stage, rms; alike in every scan.", "Scans")
    ] = "0 nm",
    offset: Annotated[
        Quantity, _q("--offset", "Of the scan after against the one before.", "Scans")
    ] = "0 mm",
    tilt: Annotated[Quantity, _q("--tilt", "Of the scan after.", "Scans")] = "0 rad",
    reversed_: Annotated[
        bool,
        typer.Option(
            "--reversed", help="Take the scan after from the other end.", rich_help_panel="Scans"
        ),
    ] = False,
    dust: Annotated[
        int, typer.Option("--dust", min=0, help="Particles on each scan.", rich_help_panel="Scans")
    ] = 0,
    dropouts: Annotated[
        int, typer.Option("--dropouts", min=0, help="Blank cells.", rich_help_panel="Scans")
    ] = 0,
    seed: Annotated[int, typer.Option("--seed", help="The same seed draws the same scans.")] = 0,
    style: Annotated[
        str,
        typer.Option(
            "--style",
            metavar="plain|semicolon|tab|headed|interval",
            help="How the files are laid out.",
        ),
    ] = "plain",
    json: Annotated[bool, typer.Option("--json", help="The files written, as JSON.")] = False,
) -> None:
    """Write scans before and after deposition, drawn from a known truth, and that truth.

    Example: filmstress simulate trial --stress "-150 MPa" --film-thickness "300 nm" --dust 5
    """
    from filmstress.errors import UsageError
    from filmstress.records.wafer import Face
    from filmstress.report.data import headed
    from filmstress.simulate.truth import ScanConditions, Truth
    from filmstress.simulate.writing import write_pair
    from filmstress.units.kinds import Kind
    from filmstress.units.quantity import read_quantity
    from filmstress.version import VERSION

    def size(flag: str, text: str, dimension: str, low: float, high: float) -> float:
        kind = Kind(flag.removeprefix("--").replace("-", " "), dimension, low, high, text)  # type: ignore[arg-type]
        return read_quantity(text, kind, where=flag).value

    if film_face not in {"up", "down"}:
        raise UsageError(f"'{film_face}' is no face", where="--film-face", hint="write up or down")
    scan = ScanConditions(dust_count=dust, blank_count=dropouts)
    truth = Truth(
        substrate=substrate,
        azimuth_reference=azimuth_reference,
        substrate_thickness_m=size(
            "--substrate-thickness", substrate_thickness, "length", 1e-5, 1e-2
        ),
        diameter_m=size("--diameter", diameter, "length", 5e-3, 0.5),
        stress_x_pa=size("--stress", stress, "stress", -2e10, 2e10),
        stress_y_pa=None
        if stress_across is None
        else size("--stress-across", stress_across, "stress", -2e10, 2e10),
        film_thickness_m=size("--film-thickness", film_thickness, "length", 1e-10, 1e-3),
        face=Face(film_face),
        azimuths_rad=tuple(
            size("--azimuth", text, "angle", -12.6, 12.6) for text in azimuth or ["0 deg"]
        ),
        scan_length_m=size("--length", length, "length", 1e-3, 0.5),
        points=points,
        bare_bow_m=size("--bare-bow", bare_bow, "length", -5e-3, 5e-3),
        waviness_rms_m=size("--waviness", waviness, "length", 0.0, 1e-4),
        waviness_length_m=size("--waviness-length", waviness_length, "length", 1e-5, 0.1),
        stage_rms_m=size("--straightness", straightness, "length", 0.0, 1e-4),
        white_noise_m=size("--noise", noise, "length", 0.0, 1e-4),
        correlated_noise_m=size("--drift", drift, "length", 0.0, 1e-4),
        correlation_length_m=size("--drift-length", drift_length, "length", 1e-5, 1.0),
        pre=scan,
        post=ScanConditions(
            lateral_offset_m=size("--offset", offset, "length", -0.02, 0.02),
            reversed=reversed_,
            tilt_rad=size("--tilt", tilt, "angle", -0.1, 0.1),
            dust_count=dust,
            blank_count=dropouts,
        ),
        seed=seed,
    )
    files = write_pair(truth, directory, style=style, repeats=repeats)
    if json:
        show_json({**headed("simulate", VERSION), "files": [str(path) for path in files]})
        return
    say(f"{len(files)} files written; truth.toml holds what they were drawn from")
    for path in files:
        show(str(path))
