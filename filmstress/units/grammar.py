"""The written form of a quantity, taken apart: numbers, unit words, how a ± is meant.

    525 um                     no uncertainty stated
    525 um (exact)
    525 um ± 2 um              also 525 ± 2 um, 525 um ± 0.4 %; +/- or +- for ±
    525 um ± 4 um (k=2)        expanded; (k=2.26, dof=9)
    525 um ± 20 um (limits)    rectangular between limits
    525.0(20) um               concise: standard uncertainty in the last digits

Nothing here knows what a unit word means, and nothing is guessed: a comma in a number, a number
in two parts or a second ± is refused.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import NoReturn

from filmstress.errors import QuantityError
from filmstress.units.spelling import tidy

_LONGEST = 200
_DECIMAL = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)"
_EXPONENT = r"(?:[eE][+-]?[0-9]+)?"
_NUMBER = re.compile(rf"({_DECIMAL})(?:\(([0-9]+)\))?({_EXPONENT})")
_PLAIN_NUMBER = re.compile(_DECIMAL + _EXPONENT)
_REST = re.compile(r"([^±()]*)(?:±([^±()]*))?(?:\(([^±()]*)\))?")


@dataclass(frozen=True, slots=True)
class Number:
    """A number as typed and its exact value."""

    text: str
    exact: Fraction


@dataclass(frozen=True, slots=True)
class Written:
    """A quantity as written.

    Attributes
    ----------
    value : Number
        The value in ``unit``.
    unit : str
        Unit word as typed; "" where there is none.
    spread : Number or None
        What stands after ±, or the concise form's uncertainty; never negative.
    spread_unit : str
        Unit word after the ±; that of the value in the concise form.
    concise, exact, limits : bool
        Which of the forms was used.
    k, dof : Number or None
        Coverage factor and degrees of freedom, where stated; positive.
    """

    value: Number
    unit: str
    spread: Number | None = None
    spread_unit: str = ""
    concise: bool = False
    exact: bool = False
    limits: bool = False
    k: Number | None = None
    dof: Number | None = None


def parse(text: str, *, where: str = "", example: str = "525 um ± 2 um") -> Written:
    """Take a text apart.

    Raises
    ------
    QuantityError
        If the text is not of one of the forms; ``where`` and ``example`` go into the message.
    """
    return _Parser(tidy(text), where, example).parse()


class _Parser:
    """One text, read from left to right; every way out is a Written or a refusal."""

    def __init__(self, text: str, where: str, example: str) -> None:
        self.text = text.replace("+/-", "±").replace("+-", "±").replace("\u2212", "-")
        self.shown = text if len(text) <= 60 else f"{text[:57]}..."
        self.where = where
        self.example = example

    def refuse(self, problem: str, hint: str = "") -> NoReturn:
        hint = hint or f"write it like '{self.example}'"
        raise QuantityError(f"{problem}.", where=self.where, hint=hint)

    def parse(self) -> Written:
        if not self.text:
            self.refuse("nothing is written where a quantity is wanted")
        if len(self.text) > _LONGEST:
            self.refuse(f"'{self.shown}' is too long for a quantity")
        self.check_digits()
        value, concise, end = self.number(self.text)
        rest = _REST.fullmatch(self.text, end)
        if rest is None:
            self.refuse_rest(end)
        unit, after, words = rest.groups()
        spread, spread_unit = concise, unit.strip() if concise else ""
        if after is not None:
            if concise:
                self.refuse(f"'{self.shown}' states its uncertainty twice, in (...) and after ±")
            spread, spread_unit = self.spread(after.strip())
        exact, limits, k, dof = self.options(words)
        if exact and spread:
            self.refuse(f"'{self.shown}' is called exact and has an uncertainty")
        if (limits or k) and after is None:
            word = "limits" if limits else "k"
            self.refuse(f"'{self.shown}': '{word}' says how a ± is meant, but there is no ±")
        if dof and not spread:
            self.refuse(f"'{self.shown}': 'dof' belongs to an uncertainty, but there is none")
        return Written(
            value, unit.strip(), spread, spread_unit, bool(concise), exact, limits, k, dof
        )

    def check_digits(self) -> None:
        """Refuse numbers written in ways that could be read as another number."""
        text = self.text
        if found := re.search(r"[0-9.]+(?:,[0-9.]+)+", text):
            self.refuse(
                f"'{self.shown}': the comma in '{found.group()}' may be a decimal mark or a "
                "separator of thousands",
                "write a decimal point and no separators: " + _without_commas(found.group()),
            )
        # "5 1/m" is a number and a unit.
        if found := re.search(r"[0-9.]+[ '’_](?!1 ?/)[0-9.]+", text):
            joined = re.sub("[ '’_]", "", found.group())
            self.refuse(
                f"'{self.shown}': '{found.group()}' is a number in two parts",
                f"write its digits together: '{joined}'",
            )
        if re.search(r"[0-9] ?[x×*·⋅] ?[0-9]|[0-9.][dD][+-]?[0-9]|[0-9][\^⁰¹²³⁴⁵⁶⁷⁸⁹⁻]", text):
            self.refuse(f"'{self.shown}': a power of ten is written with an e", "as in '1.8e11'")

    def number(self, text: str) -> tuple[Number, Number | None, int]:
        """Read the leading number: itself, its concise uncertainty, and where it ends."""
        found = _NUMBER.match(text)
        if found is None:
            if re.match(r"[+-]?(nan|inf)", text, re.IGNORECASE):
                self.refuse(f"'{self.shown}' is not a finite number")
            self.refuse(f"'{self.shown}' does not start with a number")
        decimal, digits, exponent = found.groups()
        value = self.exact(decimal + exponent)
        concise = None
        if digits:
            places = len(decimal.partition(".")[2])
            shift = Fraction(10) ** (int(exponent[1:] or 0) - places)
            concise = Number(f"({digits})", int(digits) * shift)
        return value, concise, found.end()

    def exact(self, text: str) -> Number:
        exponent = int(text.lower().partition("e")[2] or 0)
        # Far beyond any quantity, and a larger one would become a fraction of endless digits.
        if abs(exponent) > 300:
            self.refuse(f"'{text}' is beyond any size that can be meant")
        return Number(text, Fraction(text))

    def spread(self, text: str) -> tuple[Number, str]:
        """Read the number and the unit word after the ±."""
        found = _PLAIN_NUMBER.match(text)
        if found is None:
            self.refuse(f"'{self.shown}' has no number after the ±")
        number = self.exact(found.group())
        if number.exact < 0:
            self.refuse(f"'{self.shown}': what stands after ± cannot be negative")
        return number, text[found.end() :].strip()

    def options(self, words: str | None) -> tuple[bool, bool, Number | None, Number | None]:
        """Read the last parentheses: exact, limits, k, dof."""
        stated: dict[str, Number | None] = {}
        for word in words.split(",") if words is not None else ():
            name, equals, number = (part.strip() for part in word.partition("="))
            if name in stated:
                self.refuse(f"'{self.shown}' states '{name}' twice")
            if name in ("exact", "limits") and not equals:
                stated[name] = None
            elif name in ("k", "dof") and _PLAIN_NUMBER.fullmatch(number):
                stated[name] = positive = self.exact(number)
                if positive.exact <= 0:
                    self.refuse(f"'{self.shown}': '{name}' must be above zero")
            else:
                self.refuse(
                    f"'{self.shown}': '{word.strip()}' is not known in parentheses",
                    "known there: (exact), (limits), (k=2), (k=2.26, dof=9)",
                )
        alone = {"exact", "limits"} & stated.keys()
        if alone and len(stated) > 1:
            self.refuse(f"'{self.shown}': '{min(alone)}' stands alone in its parentheses")
        return "exact" in stated, "limits" in stated, stated.get("k"), stated.get("dof")

    def refuse_rest(self, start: int) -> NoReturn:
        rest = self.text[start:]
        if rest.count("±") > 1:
            self.refuse(f"'{self.shown}' has more than one ±")
        if rest.count("(") != rest.count(")"):
            self.refuse(f"'{self.shown}' has a parenthesis without its partner")
        self.refuse(f"'{self.shown}' is not a quantity as it can be read here")


def _without_commas(number: str) -> str:
    """Write, in quotes, what a number with commas may have meant."""
    digits = re.sub("[,.]", "", number)
    last = re.split("[,.]", number)[-1]
    with_point = f"{digits[: len(digits) - len(last)]}.{last}"
    if "." in number:
        return f"'{with_point}'"
    return f"'{with_point}' or '{digits}'" if number.count(",") == 1 else f"'{digits}'"
