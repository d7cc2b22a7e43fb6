"""``filmstress measure``: one film from two scans."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from filmstress.cli import exits
from filmstress.cli.checks import SEED, Json, MonteCarlo, Noise, Seed, noise_setting, only_one
from filmstress.cli.options import with_settings
from filmstress.cli.output import say, show, show_csv, show_json
from filmstress.cli.places import Figure, Report, check_places, write_figure, write_report

if TYPE_CHECKING:
    from filmstress.records.lot import WaferOutcome


@with_settings
def measure(
    pre: Annotated[
        str, typer.Argument(metavar="PRE", help="Scan before deposition ('-' is standard input).")
    ],
    post: Annotated[
        str | None,
        typer.Argument(
            metavar="POST",
            help="Scan after deposition. With --bare-bow a single file is the scan after.",
        ),
    ] = None,
    json: Json = False,
    csv: Annotated[
        bool, typer.Option("--csv", help="The uncertainty budget as a table, SI units.")
    ] = False,
    profile_csv: Annotated[
        bool,
        typer.Option("--profile-csv", help="The stress along the scan as a table, SI units."),
    ] = False,
    figure: Figure = None,
    report: Report = None,
    noise: Noise = None,
    prove: Annotated[
        int,
        typer.Option(
            "--prove",
            metavar="N",
            min=0,
            max=100_000,
            help="Send N synthetic copies of this measurement through the whole chain and count "
            "how often the interval holds; 200 is a good number.",
        ),
    ] = 0,
    monte_carlo: MonteCarlo = False,
    seed: Seed = SEED,
    **settings: object,
) -> None:
    """Stress of one film from a scan before and a scan after its deposition.

    Quantities are texts with a unit and, where known, an uncertainty: "525 um" (a default is used),
    "525 um ± 2 um" (standard uncertainty), "± 4 um (k=2)", "± 20 um (limits)", "525 um (exact)".

    Example: filmstress measure pre.csv post.csv --substrate "Si(001)" --substrate-thickness
    "525 um ± 2 um" --film-thickness "1.00 um ± 2 %"
    """
    from filmstress.errors import MeasurementRefused, UsageError
    from filmstress.inputs.settings import from_arguments
    from filmstress.measure.wafer import measure_wafer, pair_request
    from filmstress.records.lot import WaferOutcome
    from filmstress.version import VERSION

    only_one(json=json, csv=csv, profile_csv=profile_csv)
    setting = noise_setting(noise) or "balanced"
    check_places(figure, report)
    stated = from_arguments(settings, as_options=True, shared_by="wafer")
    first: str | None = pre
    if post is None:
        if "bare_bow" not in settings:
            raise UsageError(
                "the scan after deposition is missing",
                where="POST",
                hint="name both scans, or state the bare wafer's bow: --bare-bow '0 um ± 15 um'",
            )
        first, post = None, pre
    wafer = pair_request(first, post, stated)
    try:
        result = measure_wafer(
            wafer, setting=setting, copies=prove, monte_carlo=monte_carlo, seed=seed
        )
    except MeasurementRefused as error:
        from filmstress.records.notice import Notice, RefusalCode

        refusal = Notice(RefusalCode(error.code), str(error))
        if json:
            from filmstress.report.data import nothing_found

            show_json(nothing_found(wafer, refusal, VERSION))
        if report is not None:
            _write_page(WaferOutcome(wafer, None, refusal), report)
        raise
    if json:
        from filmstress.report.data import result_data

        show_json(result_data(result, VERSION))
    elif csv:
        from filmstress.report.budget_table import budget_heads, budget_rows

        show_csv(budget_heads(result), budget_rows(result))
    elif profile_csv:
        from filmstress.report.uneven_data import profile_heads, profile_rows

        show_csv(profile_heads(result), profile_rows(result))
    else:
        from filmstress.report.text import to_text

        show(to_text(result))
    if figure is not None:
        from filmstress.report.figures.measurement import draw_measurement

        write_figure(draw_measurement(result), figure)
    if report is not None:
        _write_page(WaferOutcome(wafer, result, result.refusal), report)
    if result.refusal is not None:
        say(f"filmstress: refused, {result.refusal.code}: {result.refusal.message}")
        raise typer.Exit(exits.REFUSED)


def _write_page(outcome: WaferOutcome, path: str) -> None:
    from filmstress.report.page.writing import wafer_page
    from filmstress.version import VERSION

    write_report(wafer_page(outcome, VERSION), path)
