"""The one rounding rule of every number that a reader sees.

An uncertainty is given with two significant digits, the value to the same decimal place
(JCGM 100:2008 (GUM), 7.2.6).  Rounding is to the nearest, a tie to the even digit
(ISO 80000-1:2009, Annex B, rule A), for values and uncertainties alike.  The two digits are
counted after rounding: 0.0996 becomes 0.10.  What is rounded is the number as it prints with 15
significant digits, so that a tie is not decided by the dust of binary arithmetic.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Context, Decimal

from filmstress.errors import UsageError

UNCERTAINTY_DIGITS = 2
_DIGITS_WITHOUT_UNCERTAINTY = 4

# Wide enough for the largest float beside the smallest: no quantize ever runs out of digits.
_EXACT = Context(prec=800, rounding=ROUND_HALF_EVEN)


def round_pair(value: float, u: float, *, scale: float = 1.0) -> tuple[str, str]:
    """Round a value and its uncertainty together.

    Parameters
    ----------
    value, u : float
        Value and standard or expanded uncertainty [unit], ``u`` >= 0.
    scale : float
        Size of the unit to print in [unit]: 1e6 prints pascals as MPa.

    Returns
    -------
    (str, str)
        Plain decimals.  An exact value (``u`` = 0) is given with up to 15 digits beside "0"; if
        either number is not finite, the value keeps four digits.

    Raises
    ------
    UsageError
        If ``u`` is negative or ``scale`` is not positive.
    """
    if u < 0.0:
        raise UsageError(
            f"an uncertainty of {u!r} came, a number of at least 0 is wanted",
            hint="a half-width has no sign; pass its magnitude",
        )
    if not (math.isfinite(value) and math.isfinite(u)):
        return significant(value, _DIGITS_WITHOUT_UNCERTAINTY, scale=scale), _plain(u)
    exact_value, exact_u = _decimal(value, scale), _decimal(u, scale)
    if exact_u.is_zero():
        return _written(exact_value.normalize(_EXACT)), "0"
    place = _place(exact_u, UNCERTAINTY_DIGITS)
    return _written(_to_place(exact_value, place)), _written(_to_place(exact_u, place))


def plus_minus(value: float, u: float | None, *, unit: str = "", scale: float = 1.0) -> str:
    """Write ``value ± u unit`` by the rule of this module.

    Parameters
    ----------
    value : float
        Value [unit of ``scale``].
    u : float or None
        Standard or expanded uncertainty, same unit; None where it is not known.
    unit : str
        Symbol printed behind, the unit of size ``scale``.
    scale : float
        Size of the printed unit.
    """
    behind = f" {unit}" if unit else ""
    if u is None:
        alone = significant(value, _DIGITS_WITHOUT_UNCERTAINTY, scale=scale)
        return f"{alone}{behind}, uncertainty not known"
    return " ± ".join(round_pair(value, u, scale=scale)) + behind


def significant(value: float, digits: int, *, scale: float = 1.0) -> str:
    """Write ``value / scale`` with ``digits`` significant digits as a plain decimal.

    Parameters
    ----------
    value : float
        Any number; one that is not finite is written "inf", "-inf" or "nan".
    digits : int
        Significant digits, at least 1.
    scale : float
        Size of the printed unit.

    Raises
    ------
    UsageError
        If ``digits`` is below 1 or ``scale`` is not positive.
    """
    if digits < 1:
        raise UsageError(
            f"{digits} significant digits were asked for, at least 1 is wanted",
            hint="2 to 4 suit most readers",
        )
    if not math.isfinite(value):
        return _plain(value)
    exact = _decimal(value, scale)
    return _written(_to_place(exact, _place(exact, digits)))


def _decimal(number: float, scale: float) -> Decimal:
    if not (math.isfinite(scale) and scale > 0.0):
        raise UsageError(
            f"a unit of size {scale!r} came, a finite number above 0 is wanted",
            hint="1e6 prints pascals as MPa",
        )
    scaled = Context(prec=40).divide(Decimal(repr(float(number))), Decimal(repr(float(scale))))
    return Context(prec=15, rounding=ROUND_HALF_EVEN).plus(scaled)


def _place(number: Decimal, digits: int) -> int:
    """Power of ten of the last digit kept, once rounding to it has been done."""
    if number.is_zero():
        return 1 - digits
    place = number.adjusted() - digits + 1
    return _to_place(number, place).adjusted() - digits + 1


def _to_place(number: Decimal, place: int) -> Decimal:
    return number.quantize(Decimal((0, (1,), place)), context=_EXACT)


def _written(number: Decimal) -> str:
    return f"{abs(number) if number.is_zero() else number:f}"


def _plain(number: float) -> str:
    return str(float(number))
