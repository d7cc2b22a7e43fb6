"""One spelling for each unit word: signs that mean the same are folded, letters are not."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

_LONGEST_WORD = 60
_INVISIBLE = dict.fromkeys(map(ord, "\u200b\u2060\ufeff"), " ")
_SIGNS = str.maketrans(
    {"\u00b5": "u", "\u03bc": "u", "\u2212": "-", "\u00b7": " ", "\u22c5": " ", "\u2103": "degC"}
)
_RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺", "0123456789-+")
_RAISED_RUN = re.compile("[⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺]+")
_NEGATIVE_POWER = re.compile(r"(?:(.+) )?([A-Za-z]+)\^-([0-9])")


def tidy(text: str) -> str:
    """Compose ``text``, make every kind of blank one space and leave none at the ends.

    Composition makes one letter of the ring and the A, and of the two signs for angstrom.  What
    cannot be printed becomes U+FFFD, so that a message can show the text on any terminal.
    """
    composed = unicodedata.normalize("NFC", text.translate(_INVISIBLE))
    blanked = " ".join(composed.split())
    if blanked.isprintable():
        return blanked
    return "".join(sign if sign.isprintable() else "\ufffd" for sign in blanked)


@lru_cache(maxsize=1024)
def canonical(word: str) -> str:
    """Spell ``word`` as the lists do: "µm" -> "um", "dyn/cm²" -> "dyn/cm^2".

    Folded: the two micro signs, the degree sign, raised digits, a plain 2 or 3 after a metre,
    negative powers ("m^-1" -> "1/m"), blanks around a slash.  Capitals stay: mPa is not MPa.
    """
    if len(word) > _LONGEST_WORD:
        return word
    plain = tidy(word).translate(_SIGNS)
    plain = _RAISED_RUN.sub(lambda run: "^" + run.group().translate(_RAISED), plain)
    plain = re.sub(r" ?/ ?", "/", plain)
    plain = re.sub(r"m([23])$", r"m^\1", plain)
    plain = plain.replace("\u00b0", "deg").replace("deg C", "degC")
    if power := _NEGATIVE_POWER.fullmatch(plain):
        above, below, exponent = power.groups()
        plain = f"{above or 1}/{below}" + (f"^{exponent}" if exponent != "1" else "")
    return plain
