"""Figures to files: whole or not at all, and the same bytes for the same result."""

from __future__ import annotations

import io
import os
import warnings
from pathlib import Path
from typing import Any

from matplotlib.figure import Figure

from filmstress.errors import UsageError
from filmstress.report.figures.style import figure_style
from filmstress.report.files import write_whole

# What the formats would add by themselves and which differs between two runs: taken out.
_METADATA: dict[str, dict[str, Any]] = {
    "png": {"Software": "filmstress"},
    "svg": {"Date": None, "Creator": "filmstress"},
    "pdf": {"CreationDate": None, "Creator": "filmstress", "Producer": "filmstress"},
}


def save_figure(figure: Figure, path: str | os.PathLike[str]) -> None:
    """Write a figure in the format that the path's ending names: .png, .svg or .pdf.

    The same figure gives the same bytes.  A file that is there already is replaced once the new
    one is complete.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        As drawn by `filmstress.report.figures.measurement.draw_measurement`.
    path : path

    Raises
    ------
    UsageError
        Another ending.
    RefusedInput
        The file cannot be written.
    """
    kind = figure_format(path)
    drawn = io.BytesIO()
    with figure_style(), warnings.catch_warnings():
        # A name in a script that the font lacks is drawn as boxes, and is no fault.
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        figure.savefig(drawn, format=kind, metadata=_METADATA[kind])
    write_whole(path, drawn.getvalue(), what="the figure")


def figure_format(path: str | os.PathLike[str]) -> str:
    """The format that a path's ending names; for asking before anything is computed.

    Raises
    ------
    UsageError
        Another ending than .png, .svg or .pdf.
    """
    kind = Path(path).suffix.lower().removeprefix(".")
    if kind not in _METADATA:
        came = f"the ending .{kind}" if kind else "no ending"
        raise UsageError(
            f"{came} came, a figure is written as .png, .svg or .pdf",
            where=os.fspath(path),
            hint="write 'measurement.png', 'measurement.svg' or 'measurement.pdf'",
        )
    return kind
