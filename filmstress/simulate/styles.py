"""The layouts in which laboratories write a scan."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmstress.errors import RefusedInput

_IN_METRES = {"m": 1.0, "mm": 1e-3, "um": 1e-6, "nm": 1e-9}


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """One layout of a text file.

    Attributes
    ----------
    head : tuple of str
        Lines before the data; ``{points}`` and ``{interval}`` are filled in.
    position_unit, height_unit : str
        m, mm, um or nm.
    position_digits, height_digits : int
        Digits after the decimal mark.
    delimiter, decimal, blank, line_end : str
        Between cells, decimal mark, what stands for a missing height, end of a line.
    heights_only : bool
        Whether the positions are left to the interval in the head.
    """

    head: tuple[str, ...]
    position_unit: str = "mm"
    height_unit: str = "um"
    position_digits: int = 4
    height_digits: int = 4
    delimiter: str = ","
    decimal: str = "."
    blank: str = ""
    line_end: str = "\n"
    heights_only: bool = False

    def lines(self, x: NDArray[np.float64], z: NDArray[np.float64]) -> Iterator[str]:
        """Yield the lines of a file for positions and heights [m], without their ends."""
        positions = (x / _IN_METRES[self.position_unit]).tolist()
        heights = (z / _IN_METRES[self.height_unit]).tolist()
        interval = (positions[-1] - positions[0]) / (len(positions) - 1)
        for line in self.head:
            yield line.format(points=len(positions), interval=f"{interval:.9g}")
        for position, height in zip(positions, heights, strict=True):
            cells = [self._number(height, self.height_digits)]
            if not self.heights_only:
                cells.insert(0, self._number(position, self.position_digits))
            yield self.delimiter.join(cells)

    def _number(self, value: float, digits: int) -> str:
        if math.isnan(value):
            return self.blank
        shown = round(value, digits) + 0.0  # no minus sign before a zero
        return f"{shown:.{digits}f}".replace(".", self.decimal)


STYLES: dict[str, Style] = {
    "plain": Style(head=("x [mm],z [um]",)),
    "semicolon": Style(
        head=("Position (mm);Height (nm)",),
        height_unit="nm",
        height_digits=1,
        delimiter=";",
        decimal=",",
        line_end="\r\n",
    ),
    "tab": Style(
        head=("position\theight", "mm\tum"),
        delimiter="\t",
        blank="NaN",
    ),
    "headed": Style(
        head=("# line scan", "points: {points}", "x unit: um", "height unit: nm", "x z"),
        position_unit="um",
        height_unit="nm",
        position_digits=1,
        height_digits=1,
        delimiter=" ",
        blank="NaN",
    ),
    "interval": Style(
        head=("sampling interval: {interval} mm", "height [um]"),
        blank="NaN",
        heights_only=True,
    ),
}


def find_style(name: str) -> Style:
    """Return the style of that name.

    Raises
    ------
    RefusedInput
        There is none.
    """
    if name not in STYLES:
        raise RefusedInput(
            f"'{name}' is no layout of scan files",
            where="style",
            hint=f"one of {', '.join(STYLES)}",
        )
    return STYLES[name]
