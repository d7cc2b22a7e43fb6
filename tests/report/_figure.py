"""Looking into a drawn figure."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text


def panel(figure: Figure, name: str) -> Axes:
    (found,) = [ax for ax in figure.axes if ax.get_label() == name]
    return found


def panels(figure: Figure, start: str) -> list[Axes]:
    return [ax for ax in figure.axes if str(ax.get_label()).startswith(start)]


def curve(ax: Axes, label: str) -> tuple[np.ndarray, np.ndarray]:
    """The one line of that label, its gaps left out."""
    (line,) = [line for line in ax.lines if line.get_label() == label]
    x, z = np.asarray(line.get_xdata(), float), np.asarray(line.get_ydata(), float)
    there = np.isfinite(z)
    return x[there], z[there]


def marks(ax: Axes, marker: str) -> int:
    return sum(len(line.get_xdata()) for line in ax.lines if line.get_marker() == marker)


def words(figure: Figure) -> str:
    return "\n".join(text.get_text() for text in figure.findobj(Text))
