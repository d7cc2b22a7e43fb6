"""Stresses that options state for a question, not for a measurement: one value, in SI."""

from __future__ import annotations


def stress_size(
    flag: str, text: str, *, example: str = "20 MPa", above_zero: bool = False
) -> float:
    """A stated stress [Pa].

    Raises
    ------
    RefusedInput
        It cannot be read, has an uncertainty, or is not above 0 where it must be.
    """
    from filmstress.errors import RefusedInput
    from filmstress.units.kinds import Kind
    from filmstress.units.quantity import read_quantity

    low = 0.0 if above_zero else -2e10
    name = flag.removeprefix("--").replace("-", " ")
    read = read_quantity(text, Kind(name, "stress", low, 2e10, example), where=flag)
    if read.u:
        raise RefusedInput(
            f"'{text}' has an uncertainty, and one value is wanted",
            where=flag,
            hint=f'write the value alone: "{example}"',
        )
    if above_zero and read.value <= 0.0:
        raise RefusedInput(f"'{text}' is not above 0", where=flag, hint=f'write "{example}"')
    return read.value
