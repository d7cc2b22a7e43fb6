"""``filmstress plan``: what a measurement would tell, before it is made."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli import exits
from filmstress.cli.checks import Json
from filmstress.cli.options import with_settings
from filmstress.cli.output import show, show_json
from filmstress.cli.places import Figure, check_places, write_figure
from filmstress.cli.sizes import Size, count_option, one_value, size_option

_PLAN = "Plan"
_SIZES: dict[str, Size] = {
    "--stress": ("stress", -2e10, 2e10, "-200 MPa"),
    "--force": ("force per length", -1e5, 1e5, "-100 N/m"),
    "--lower": ("stress", -2e10, 2e10, "-250 MPa"),
    "--upper": ("stress", -2e10, 2e10, "-150 MPa"),
    "--length": ("length", 1e-3, 0.5, "120 mm"),
    "--height-noise": ("length", 0.0, 1e-4, "5 nm"),
    "--drift": ("length", 0.0, 1e-4, "5 nm"),
    "--drift-length": ("length", 1e-5, 1.0, "5 mm"),
    "--waviness": ("length", 0.0, 1e-4, "50 nm"),
    "--waviness-length": ("length", 1e-5, 0.1, "2 mm"),
    "--wafer-bow": ("length", -5e-3, 5e-3, "10 um"),
    "--height-range": ("length", 1e-9, 0.1, "100 um"),
}


def _size(flag: str, text: str) -> typer.models.OptionInfo:
    return size_option(flag, text, _PLAN)


def _count(flag: str, text: str, low: int, high: int) -> typer.models.OptionInfo:
    return count_option(flag, text, low, high, _PLAN)


def _read(flag: str, text: str) -> float:
    return one_value(flag, text, _SIZES[flag])


@with_settings
def plan(
    stress: Annotated[
        str | None, _size("--stress", "The stress to plan for; by default between the limits.")
    ] = None,
    force: Annotated[
        str | None,
        _size("--force", "The film's force per width, where its thickness is not stated."),
    ] = None,
    length: Annotated[str, _size("--length", "Of a scan.")] = "120 mm",
    points: Annotated[int, _count("--points", "Of a scan.", 50, 1_000_000)] = 4001,
    repeats: Annotated[int, _count("--repeats", "Scans of every line.", 1, 20)] = 1,
    height_noise: Annotated[
        str, _size("--height-noise", "Of single points, standard deviation.")
    ] = "5 nm",
    drift: Annotated[str, _size("--drift", "Correlated noise, standard deviation.")] = "5 nm",
    drift_length: Annotated[str, _size("--drift-length", "Its correlation length.")] = "5 mm",
    waviness: Annotated[str, _size("--waviness", "Of the wafer's face, rms.")] = "50 nm",
    waviness_length: Annotated[str, _size("--waviness-length", "Its correlation length.")] = "2 mm",
    wafer_bow: Annotated[str, _size("--wafer-bow", "Of the bare wafer over the scan.")] = "0 um",
    height_range: Annotated[
        str | None, _size("--height-range", "What the instrument can measure.")
    ] = None,
    lower: Annotated[str | None, _size("--lower", "Limit on the stress.")] = None,
    upper: Annotated[str | None, _size("--upper", "Limit on the stress.")] = None,
    confidence: Annotated[
        float,
        typer.Option(
            "--confidence",
            metavar="P",
            help="Probability of conformance that accepts.",
            rich_help_panel=_PLAN,
        ),
    ] = 0.95,
    figure: Figure = None,
    json: Json = False,
    **settings: object,
) -> None:
    """What a measurement would tell before it is made, and what would make it tell more.

    Measurements are drawn from what is stated and sent through the whole chain.

    Example: filmstress plan --stress "-200 MPa" --substrate "Si(001)" --substrate-thickness
    "675 um ± 5 um" --diameter "150 mm" --film-thickness "500 nm ± 2 %" --length "120 mm"
    """
    from filmstress.errors import UsageError
    from filmstress.inputs.settings import from_arguments
    from filmstress.measure.wafer import pair_request
    from filmstress.planning.planning import plan as make_plan
    from filmstress.records.plan import Instrument
    from filmstress.report.plan import plan_data, plan_text
    from filmstress.version import VERSION

    check_places(figure)
    low, high = (
        None if text is None else _read(flag, text)
        for flag, text in (("--lower", lower), ("--upper", upper))
    )
    has_thickness = "film_thickness" in settings
    if stress is None and force is None and low is not None and high is not None:
        expected = 0.5 * (low + high)
    elif (stress if has_thickness else force) is None:
        raise UsageError(
            "what to plan for is missing",
            where="--stress" if has_thickness else "--force",
            hint='state --stress "-200 MPa" with --film-thickness, or --force "-100 N/m" without',
        )
    elif has_thickness:
        expected = _read("--stress", stress or "")
    else:
        expected = _read("--force", force or "")
    if not 0.5 < confidence < 1.0:
        raise UsageError(
            f"{confidence:g} is no confidence", where="--confidence", hint="above 0.5, below 1"
        )
    if low is not None and high is not None and not low < high:
        raise UsageError("the limits are the wrong way round", where="--lower, --upper")
    instrument = Instrument(
        length_m=_read("--length", length),
        points=points,
        noise_m=_read("--height-noise", height_noise),
        drift_m=_read("--drift", drift),
        drift_length_m=_read("--drift-length", drift_length),
        waviness_m=_read("--waviness", waviness),
        waviness_length_m=_read("--waviness-length", waviness_length),
        bare_bow_m=_read("--wafer-bow", wafer_bow),
        height_range_m=None if height_range is None else _read("--height-range", height_range),
        repeats=repeats,
    )
    stated = from_arguments(settings, as_options=True, shared_by="wafer")
    before = None if "bare_bow" in settings else "planned, before"
    wafer = pair_request(before, "planned, after", stated)
    made = make_plan(
        wafer, instrument, stress_pa=expected, lower=low, upper=high, confidence=confidence
    )
    if json:
        show_json(plan_data(made, VERSION))
    else:
        show(plan_text(made))
    if figure is not None:
        from filmstress.report.figures.plan import draw_plan

        write_figure(draw_plan(made), figure)
    if made.refusal is not None:
        raise typer.Exit(exits.REFUSED)
