"""A scan as read from a file."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class ReadingOptions:
    """What the user states about a file that the file may leave open; None leaves it to the file.

    Attributes
    ----------
    position_unit, height_unit : str or None
        Unit words ("mm", "um", ...).
    decimal : str or None
        Decimal mark, "." or ",".
    columns : str or None
        Position and height column, by name or number from 1: "1,3", "x,z"; a single entry means
        that the file holds heights only.
    interval : float or None
        Distance between the points [m] of a file that holds heights only.
    trace : str or None
        Which of several scans in one file, by number from 1 or by name.
    line_azimuth : float or None
        Direction of the line that is taken from a map of heights, through its middle [rad],
        counter-clockwise from the map's x.
    """

    position_unit: str | None = None
    height_unit: str | None = None
    decimal: str | None = None
    columns: str | None = None
    interval: float | None = None
    trace: str | None = None
    line_azimuth: float | None = None


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Rows of a file that did not become points: why, how many, and the first one's line number.

    In a file without lines, which ``counted`` then says, it is the number of the first such point.
    """

    reason: str
    count: int
    first_line: int
    counted: str = "line"

    @property
    def words(self) -> str:
        """``2 rows left out: no height ('NaN') (first in line 12)``."""
        noun, first = ("row", "in line") if self.counted == "line" else ("point", "is point")
        found = f"1 {noun}" if self.count == 1 else f"{self.count} {noun}s"
        return f"{found} left out: {self.reason} (first {first} {self.first_line})"


@dataclass(frozen=True, slots=True)
class ScanSource:
    """Where a scan came from and how it was read.

    Attributes
    ----------
    path : str
        As the user gave it; "-" is standard input.
    sha256 : str
        Of the file's bytes as they lie on disk (compressed files: of the compressed bytes).
    position_unit, height_unit : str
        Unit words in force, as written in the file or stated.
    position_column, height_column : str
        Column names, or "column 2" where there are none; position may be "stated interval".
    rows : int
        Data rows found.
    left_out : tuple of LeftOut
        Rows that did not become points; empty when every row did.
    notes : tuple of str
        Anything else a careful reader wants to know: encoding, decimal comma, rows put in order.
    trace : int or None
        Number, from 1, of this scan in a file that holds several; None where it holds one.
    trace_name : str
        What such a file calls it; may be empty.
    line_azimuth : float or None
        Direction of the line that was taken from a map of heights [rad]; None where the file holds
        scans.
    """

    path: str
    sha256: str
    position_unit: str
    height_unit: str
    position_column: str
    height_column: str
    rows: int
    left_out: tuple[LeftOut, ...] = ()
    notes: tuple[str, ...] = ()
    trace: int | None = None
    trace_name: str = ""
    line_azimuth: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Scan:
    """One height scan.

    Attributes
    ----------
    x : ndarray of float64, shape (n,)
        Position along the scan [m] in the file's own coordinates, strictly increasing.
    z : ndarray of float64, shape (n,)
        Height of the scanned face [m], finite, counted out of that face.
    source : ScanSource
        Provenance.
    """

    x: NDArray[np.float64]
    z: NDArray[np.float64]
    source: ScanSource

    @property
    def length(self) -> float:
        """Distance between the first and the last point [m]."""
        return float(self.x[-1] - self.x[0])


@dataclass(frozen=True, slots=True, eq=False)
class HeightMap:
    """Heights on a rectangular grid.

    Attributes
    ----------
    x : ndarray of float64, shape (n,)
        Positions along the rows [m], evenly spaced, strictly increasing.
    y : ndarray of float64, shape (m,)
        Positions of the rows [m], likewise.
    z : ndarray of float64, shape (m, n)
        Heights of the scanned face [m], counted out of that face; NaN where none was measured.
    source : ScanSource
        Provenance.
    """

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    z: NDArray[np.float64]
    source: ScanSource
