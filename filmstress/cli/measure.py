"""``filmstress measure``: one film from two scans."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.cli import exits
from filmstress.cli.options import with_settings
from filmstress.cli.output import say, show, show_json


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
    json: Annotated[bool, typer.Option("--json", help="One JSON object, SI units.")] = False,
    figure: Annotated[
        str | None, typer.Option("--figure", metavar="FILE", help="Draw it: .png, .svg or .pdf.")
    ] = None,
    noise: Annotated[
        str,
        typer.Option(
            "--noise",
            metavar="balanced|safe|sharp",
            help="How cautiously the residuals are judged; safe for a sign-off.",
        ),
    ] = "balanced",
    prove: Annotated[
        int,
        typer.Option(
            "--prove",
            metavar="N",
            min=0,
            help="Send N synthetic copies of this measurement through the whole chain and count "
            "how often the interval holds; 200 is a good number.",
        ),
    ] = 0,
    **settings: object,
) -> None:
    """Stress of one film from a scan before and a scan after its deposition.

    Quantities are texts with a unit and, where known, an uncertainty: "525 um" (a default is used),
    "525 um ± 2 um" (standard uncertainty), "± 4 um (k=2)", "± 20 um (limits)", "525 um (exact)".

    Example: filmstress measure pre.csv post.csv --substrate "Si(001)" --substrate-thickness
    "525 um ± 2 um" --film-thickness "1.00 um ± 2 %"
    """
    from filmstress.errors import UsageError
    from filmstress.inputs.settings import from_arguments
    from filmstress.measure.wafer import measure_wafer, pair_request

    if noise not in {"balanced", "safe", "sharp"}:
        raise UsageError(
            f"'{noise}' is no setting of the noise model",
            where="--noise",
            hint="write balanced, safe or sharp",
        )
    if figure is not None:
        from filmstress.report.figures.saving import figure_format

        figure_format(figure)
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
    result = measure_wafer(pair_request(first, post, stated), setting=noise, copies=prove)
    if figure is not None:
        from filmstress.report.figures.measurement import draw_measurement
        from filmstress.report.figures.saving import save_figure

        save_figure(draw_measurement(result), figure)
        say(f"figure written: {figure}")
    if json:
        from filmstress.report.data import result_data
        from filmstress.version import VERSION

        show_json(result_data(result, VERSION))
    else:
        from filmstress.report.text import to_text

        show(to_text(result))
    if result.refusal is not None:
        if json:
            say(f"filmstress: {result.refusal.message}")
        raise typer.Exit(exits.REFUSED)
