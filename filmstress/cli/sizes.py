"""Options that state one value for a question, a plan or a truth: SI, without an uncertainty."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from filmstress.units.dimensions import Dimension

# An option's dimension, its plausible range [SI], how it is written.
Size = tuple["Dimension", float, float, str]


def size_option(flag: str, text: str, panel: str) -> typer.models.OptionInfo:
    """An option that takes such a value."""
    option: typer.models.OptionInfo = typer.Option(
        flag, metavar="QUANTITY", help=text, rich_help_panel=panel
    )
    return option


def count_option(flag: str, text: str, low: int, high: int, panel: str) -> typer.models.OptionInfo:
    """An option that takes a whole number."""
    option: typer.models.OptionInfo = typer.Option(
        flag, metavar="N", min=low, max=high, help=text, rich_help_panel=panel
    )
    return option


def one_value(flag: str, text: str, size: Size) -> float:
    """The value that an option states [SI].

    Raises
    ------
    RefusedInput
        It cannot be read, is not plausible, or has an uncertainty.
    """
    from filmstress.errors import RefusedInput
    from filmstress.units.kinds import Kind
    from filmstress.units.quantity import read_quantity

    dimension, low, high, example = size
    name = flag.removeprefix("--").replace("-", " ")
    read = read_quantity(text, Kind(name, dimension, low, high, example), where=flag)
    if read.u:
        raise RefusedInput(
            f"'{text}' has an uncertainty, and one value is wanted",
            where=flag,
            hint=f"write the value alone: '{example}'",
        )
    return read.value


def stress_size(
    flag: str, text: str, *, example: str = "20 MPa", above_zero: bool = False
) -> float:
    """A stated stress [Pa].

    Raises
    ------
    RefusedInput
        As `one_value`; or it is not above 0 where it must be.
    """
    from filmstress.errors import RefusedInput

    value = one_value(flag, text, ("stress", 0.0 if above_zero else -2e10, 2e10, example))
    if above_zero and value <= 0.0:
        raise RefusedInput(f"'{text}' is not above 0", where=flag, hint=f"write '{example}'")
    return value
