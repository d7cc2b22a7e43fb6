"""Film stress from wafer curvature, with an uncertainty that holds.

The public names are loaded on first use, so that importing the package costs nothing.

>>> import filmstress
>>> result = filmstress.measure_film(
...     "pre.csv", "post.csv", substrate="Si(001)",
...     substrate_thickness="525 um ± 2 um", film_thickness="1.00 um ± 2 %",
... )  # doctest: +SKIP
>>> print(filmstress.to_text(result))  # doctest: +SKIP
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from filmstress.version import VERSION as __version__  # noqa: N811 - the usual public name

if TYPE_CHECKING:
    from filmstress.errors import FilmstressError as FilmstressError
    from filmstress.lots.batch import measure_lot as measure_lot
    from filmstress.lots.manifest import read_lot as read_lot
    from filmstress.measure.cut import cut_moduli as cut_moduli
    from filmstress.measure.single import inspect_scan as inspect_scan
    from filmstress.measure.thickness import measure_thickness as measure_thickness
    from filmstress.measure.wafer import measure_film as measure_film
    from filmstress.measure.wafer import measure_wafer as measure_wafer
    from filmstress.records.lot import LotResult as LotResult
    from filmstress.records.quantity import Estimate as Estimate
    from filmstress.records.quantity import Measured as Measured
    from filmstress.records.result import StressResult as StressResult
    from filmstress.records.scan import Scan as Scan
    from filmstress.report.data import result_data as result_data
    from filmstress.report.figures.measurement import draw_measurement as draw_measurement
    from filmstress.report.figures.saving import save_figure as save_figure
    from filmstress.report.text import to_text as to_text
    from filmstress.scans.reading.scan_file import read_scan as read_scan
    from filmstress.simulate.pair import simulate_pair as simulate_pair
    from filmstress.simulate.truth import Truth as Truth

_HOMES = {
    "Estimate": "filmstress.records.quantity",
    "FilmstressError": "filmstress.errors",
    "LotResult": "filmstress.records.lot",
    "Measured": "filmstress.records.quantity",
    "Scan": "filmstress.records.scan",
    "StressResult": "filmstress.records.result",
    "Truth": "filmstress.simulate.truth",
    "cut_moduli": "filmstress.measure.cut",
    "draw_measurement": "filmstress.report.figures.measurement",
    "inspect_scan": "filmstress.measure.single",
    "measure_film": "filmstress.measure.wafer",
    "measure_lot": "filmstress.lots.batch",
    "measure_thickness": "filmstress.measure.thickness",
    "measure_wafer": "filmstress.measure.wafer",
    "read_lot": "filmstress.lots.manifest",
    "read_scan": "filmstress.scans.reading.scan_file",
    "result_data": "filmstress.report.data",
    "save_figure": "filmstress.report.figures.saving",
    "simulate_pair": "filmstress.simulate.pair",
    "to_text": "filmstress.report.text",
}

__all__ = ["__version__", *sorted(_HOMES)]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'filmstress' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted(__all__)
