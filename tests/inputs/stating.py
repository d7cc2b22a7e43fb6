"""Requests from keyword arguments, as the tests state them."""

from __future__ import annotations

from typing import Any

import pytest

from filmstress.errors import Faults, FilmstressError
from filmstress.inputs.request import LineInput, build_wafer
from filmstress.inputs.settings import Settings, from_arguments
from filmstress.records.wafer import WaferSpec

ENOUGH = {"substrate": "Si(001)", "substrate_thickness": "525 um ± 2 um"}
BOTH: dict[str, str | None] = {"pre": "pre.csv", "post": "post.csv"}


def settings(**stated: Any) -> Settings:
    return from_arguments(stated, as_options=False, shared_by="wafer 01")


def wafer(*lines: dict[str, Any], paths: dict[str, str | None] = BOTH, **stated: Any) -> WaferSpec:
    inputs = [
        LineInput(settings(**line), paths, f"scan {i}") for i, line in enumerate(lines or ({},), 1)
    ]
    return build_wafer("01", settings(**{**ENOUGH, **stated}), inputs, where="file, wafer 01")


def faults_of(*lines: dict[str, Any], **stated: Any) -> list[FilmstressError]:
    with pytest.raises(FilmstressError) as caught:
        wafer(*lines, **stated)
    error = caught.value
    return list(error.faults) if isinstance(error, Faults) else [error]
