"""Settings of a process parameter in the unit in which they are shown."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from filmstress.records.comparison import Sweep
from filmstress.report.words import minus, say_number
from filmstress.units.conversion import rounded
from filmstress.units.registry import scale


@dataclass(frozen=True, slots=True)
class SettingScale:
    """From SI to the unit word that a sweep is shown in.

    Attributes
    ----------
    word : str
        Empty for a bare number.
    factor, offset : Fraction
        SI value = number x factor + offset.
    """

    word: str
    factor: Fraction
    offset: Fraction

    @classmethod
    def of(cls, sweep: Sweep) -> SettingScale:
        """That of a sweep."""
        one = scale(sweep.word or "1")
        return cls(sweep.word, one.factor, one.offset)

    def number(self, setting_si: float) -> float:
        """A setting in the unit shown."""
        return rounded((Fraction(setting_si) - self.offset) / self.factor)

    def say(self, setting_si: float, digits: int = 4) -> str:
        """A setting with its unit: "650 mTorr"."""
        return _said(self.number(setting_si), self.word, digits)

    def say_step(self, step_si: float, digits: int = 4) -> str:
        """A difference of two settings with its unit, which is K where settings are in degC."""
        return _said(rounded(Fraction(step_si) / self.factor), self.step_word, digits)

    @property
    def step_word(self) -> str:
        """Unit word of a difference of two settings."""
        return "K" if self.offset else self.word

    def per_step(self, slope: float) -> float:
        """A slope for one unit shown, from that for one SI unit."""
        return slope * float(self.factor)


def _said(number: float, word: str, digits: int) -> str:
    return f"{minus(say_number(number, digits))} {word}".rstrip()
