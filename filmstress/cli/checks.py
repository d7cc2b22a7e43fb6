"""What commands check alike about their options."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.errors import UsageError

_NOISE_SETTINGS = ("balanced", "safe", "sharp")

Json = Annotated[bool, typer.Option("--json", help="One JSON object, SI units.")]
Noise = Annotated[
    str | None,
    typer.Option(
        "--noise",
        metavar="|".join(_NOISE_SETTINGS),
        help="How cautiously the residuals are judged; safe is for a sign-off.",
    ),
]


def noise_setting(stated: str | None) -> str | None:
    """The setting of the noise model that --noise names; None where it is not given.

    Raises
    ------
    UsageError
        There is no such setting.
    """
    if stated is not None and stated not in _NOISE_SETTINGS:
        raise UsageError(
            f"'{stated}' is no setting of the noise model",
            where="--noise",
            hint="write balanced, safe or sharp",
        )
    return stated


def only_one(*, json: bool, csv: bool) -> None:
    """Refuse two forms of output at once: only one of them could be written.

    Raises
    ------
    UsageError
        Both are asked for.
    """
    if json and csv:
        raise UsageError("--json and --csv exclude each other", hint="ask for one of them")
