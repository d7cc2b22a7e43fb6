"""The look of all figures: palette, line widths, type sizes."""

from __future__ import annotations

from contextlib import AbstractContextManager
from typing import Any

import matplotlib.style

# Five tones between ink and paper, some 20 apart in lightness (CIE L* 16, 36, 56, 74, 88), so that
# they stay apart in a grey print; slate and mist lean to blue, clay and sand to ochre, the pair of
# hues that all common kinds of colour blindness tell apart.  No red, no green: words judge.
INK = "#1f2a33"
SLATE = "#34596e"
CLAY = "#b07a3e"
MIST = "#aeb8bd"
SAND = "#ecdcb9"
PAPER = "#ffffff"

# A4, landscape [inch].
PAGE = (11.69, 8.27)

HEADLINE = 16.0
BODY = 9.0
SMALL = 7.5

_RC: dict[str, Any] = {
    "font.family": "sans-serif",
    "font.size": BODY,
    "axes.labelsize": BODY,
    "axes.titlesize": BODY,
    "xtick.labelsize": 8.0,
    "ytick.labelsize": 8.0,
    "legend.fontsize": 8.0,
    "text.color": INK,
    "axes.labelcolor": INK,
    "axes.edgecolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.linewidth": 0.7,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.formatter.useoffset": False,
    "axes.xmargin": 0.01,
    "figure.facecolor": PAPER,
    "figure.dpi": 150.0,
    "savefig.dpi": 150.0,
    "hatch.linewidth": 0.8,
    # Names of wafers and films are printed as they are, dollar signs included.
    "text.parse_math": False,
    # Text stays text, so that it can be searched, read aloud and copied.
    "svg.fonttype": "none",
    "pdf.fonttype": 42,
    # Ids inside the file depend on its content alone.
    "svg.hashsalt": "filmstress",
}


def figure_style() -> AbstractContextManager[None]:
    """Context for drawing and saving: our look alone, whatever the user has configured."""
    context: AbstractContextManager[None] = matplotlib.style.context(["default", _RC])
    return context
