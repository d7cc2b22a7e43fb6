"""Whatever a lot file or a wafer table holds, nothing but a fault comes of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import FilmstressError
from filmstress.lots.manifest import lot_from, read_lot
from tests.lots.writing import MINIMAL

words = st.sampled_from(
    [
        "lot", "recipe", "substrate", "film", "scan", "specification", "deposition", "wafer",
        "wafers", "id", "scans", "pre", "post", "azimuth", "thickness", "material", "support",
        "bare_bow", "reference", "role", "lower", "upper", "confidence", "spread_max", "modulus",
        "post_origin", "youngs_modulus", "poisson_ratio", "window", "offset", "x",
    ]
)  # fmt: skip
leaves = st.one_of(
    st.sampled_from(
        ["01", "Si(001)", "675 um ± 2 um", "500 nm", "0 deg", "rim", "-150 MPa", "a.csv", "",
         "auto", "-30..30 mm", "stripped", "0.95", "/dev/zero"]
    ),
    st.booleans(), st.integers(), st.floats(), st.text(max_size=5), st.dates(), st.times(),
    st.datetimes(),
)  # fmt: skip
tomls = st.dictionaries(
    words,
    st.recursive(
        leaves,
        lambda inner: st.one_of(
            st.lists(inner, max_size=3), st.dictionaries(words, inner, max_size=5)
        ),
        max_leaves=15,
    ),
    max_size=8,
)


@given(data=tomls)
def test_nothing_but_faults_come_of_anything_that_toml_can_say(data: dict[str, Any]) -> None:
    said = "read"
    try:
        lot_from(data, path=Path("somewhere/lot.toml"))
    except FilmstressError as error:
        said = str(error)
    assert said.isprintable() or "\n" in said
    assert "\x1b" not in said


@given(text=st.text(max_size=60), data=st.binary(max_size=30))
def test_nothing_but_faults_come_of_any_bytes(
    tmp_path_factory: pytest.TempPathFactory, text: str, data: bytes
) -> None:
    path = tmp_path_factory.getbasetemp() / "any.toml"
    for raw in (text.encode("utf-8", "surrogatepass"), data, MINIMAL.encode() + data):
        path.write_bytes(raw)
        try:
            read_lot(path)
        except FilmstressError as error:
            assert str(error)  # noqa: PT017 - most are refused, some are read


@given(raw=st.one_of(st.binary(max_size=80), st.text(max_size=80).map(str.encode)))
def test_nothing_but_faults_come_of_any_table(
    tmp_path_factory: pytest.TempPathFactory, raw: bytes
) -> None:
    folder = tmp_path_factory.getbasetemp()
    head = MINIMAL.partition("[[wafer]]")[0].replace("[sub", 'wafers = "any.csv"\n[sub')
    (folder / "table.toml").write_text(head, encoding="utf-8")
    for start in (b"", b"wafer,pre,post,film_thickness [nm]\n", b"wafer;post;azimuth\n1;b;\n"):
        (folder / "any.csv").write_bytes(start + raw)
        said = "read"
        try:
            read_lot(folder / "table.toml")
        except FilmstressError as error:
            said = str(error)
        assert said
