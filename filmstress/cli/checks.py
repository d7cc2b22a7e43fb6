"""What commands check alike about their options."""

from __future__ import annotations

from typing import Annotated

import typer

from filmstress.errors import UsageError

_NOISE_SETTINGS = ("balanced", "safe", "sharp")

Json = Annotated[bool, typer.Option("--json", help="One JSON object, SI units.")]
MonteCarlo = Annotated[
    bool,
    typer.Option(
        "--monte-carlo",
        help="Propagate the inputs' distributions by random draws (JCGM 101) in any case; where "
        "the first order is in doubt this is done anyway.",
    ),
]
Seed = Annotated[
    int,
    typer.Option("--seed", metavar="N", min=0, help="Of the draws; the same gives the same."),
]
# As in filmstress.stats.monte_carlo, which loads numpy.
SEED = 101
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


def only_one(**forms: bool) -> None:
    """Refuse two forms of output at once, named as their options: only one could be written.

    Raises
    ------
    UsageError
        More than one is asked for.
    """
    asked = ["--" + name.replace("_", "-") for name, wanted in forms.items() if wanted]
    if len(asked) > 1:
        raise UsageError(f"{' and '.join(asked)} exclude each other", hint="ask for one of them")
