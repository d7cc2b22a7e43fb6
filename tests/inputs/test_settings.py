"""Levels of settings: the more particular one wins, and what it silences."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmstress.errors import UsageError
from filmstress.inputs.faults import FaultList
from filmstress.inputs.keys import all_keys
from filmstress.inputs.settings import (
    RIVALS,
    STATES,
    Settings,
    find_key,
    from_arguments,
    read_table,
)

PER_SCAN = [key.name for key in all_keys() if key.per_scan]
TABLES = {
    table: [key.name for key in all_keys() if key.table == table]
    for table in ("substrate", "film", "scan", "wafer")
}


def level(table: str, values: dict[str, str], shared_by: str = "lot") -> Settings:
    settings, faults = Settings(), FaultList()
    read_table(values, table, where="file", shared_by=shared_by, into=settings, faults=faults)
    assert not faults
    return settings


def raw_of_scan(settings: Settings, state: str, name: str) -> object:
    setting = settings.of_scan(state, name)
    return None if setting is None else setting.raw


scan_names = st.sampled_from(["support", "origin", "azimuth", "datum"])
states = st.sampled_from(["", *STATES])
levels = st.lists(
    st.dictionaries(st.tuples(states, scan_names), st.integers(), max_size=6),
    min_size=1,
    max_size=4,
)


@given(levels=levels, name=scan_names, state=st.sampled_from(STATES))
def test_the_most_particular_level_that_speaks_of_a_scan_wins(
    levels: list[dict[tuple[str, str], int]], name: str, state: str
) -> None:
    """Against the rule as it is told: go from particular to general, and on each level take the
    prefixed key before the general one."""
    merged = Settings()
    for number, one in enumerate(levels):
        values = {
            (f"{prefix}_{key}" if prefix else key): f"{value} at {number}"
            for (prefix, key), value in one.items()
        }
        merged = merged.overlaid(level("scan", values))
    expected = None
    for number, one in reversed(list(enumerate(levels))):
        told = one.get((state, name), one.get(("", name)))
        if told is not None:
            expected = f"{told} at {number}"
            break
    assert raw_of_scan(merged, state, name) == expected


@given(data=st.data(), table=st.sampled_from(["substrate", "film", "wafer"]))
def test_a_wafer_overrides_its_lot(data: st.DataObject, table: str) -> None:
    names = st.lists(st.sampled_from(TABLES[table]), unique=True)
    below, above = data.draw(names), data.draw(names)
    lot = level(table, dict.fromkeys(below, "lot"))
    wafer = level(table, dict.fromkeys(above, "wafer"))
    merged = {name: one.raw for name, one in lot.overlaid(wafer).table(table).items()}
    laid_aside = {rival for name in above for rival in RIVALS.get(table, {}).get(name, ())}
    assert {name for name, raw in merged.items() if raw == "wafer"} == set(above)
    assert set(merged) == set(above) | (set(below) - laid_aside)


def test_a_level_is_not_changed_by_what_is_laid_over_it() -> None:
    lot = level("scan", {"pre_support": "rim"})
    lot.overlaid(level("scan", {"support": "free"}))
    assert raw_of_scan(lot, "pre", "support") == "rim"


def test_constants_of_a_wafer_lay_aside_the_material_of_its_lot() -> None:
    lot = level("substrate", {"material": "Si(001)", "thickness": "675 um"})
    glass = level("substrate", {"youngs_modulus": "73 GPa", "poisson_ratio": "0.2"})
    assert set(lot.overlaid(glass).substrate) == {"thickness", "youngs_modulus", "poisson_ratio"}
    assert set(glass.overlaid(lot).substrate) == {"material", "thickness"}


@pytest.mark.parametrize("name", PER_SCAN)
@pytest.mark.parametrize("state", STATES)
def test_every_key_of_a_scan_takes_both_prefixes(name: str, state: str) -> None:
    found = find_key(f"{state}_{name}", "scan")
    assert found is not None
    assert (found[0].name, found[1]) == (name, state)


@pytest.mark.parametrize(
    ("written", "table"),
    [
        ("pre_bare_bow", "scan"),
        ("post_reference", "scan"),
        ("pre_thickness", "film"),
        ("post_", "scan"),
        ("pre", "scan"),
        ("mid_support", "scan"),
    ],
)
def test_prefixes_belong_to_keys_of_one_scan_only(written: str, table: str) -> None:
    assert find_key(written, table) is None


@pytest.mark.parametrize(
    ("table", "written", "hint"),
    [
        ("substrate", "thicknes", "did you mean 'thickness'?"),
        ("substrate", "Diameter", "did you mean 'diameter'?"),
        ("film", "diameter", "did you mean 'substrate.diameter'?"),
        ("film", "thikness", "did you mean 'thickness'?"),
        ("scan", "post_suport", "did you mean 'post_support'?"),
        ("scan", "suport_radius", "did you mean 'support_radius'?"),
        ("scan", "film_thickness", "did you mean 'film.thickness'?"),
        ("scan", "thickness", "did you mean 'substrate.thickness' or 'film.thickness'?"),
        ("film", "role", "did you mean 'role'?"),
    ],
)
def test_an_unknown_key_is_told_its_nearest(table: str, written: str, hint: str) -> None:
    faults = FaultList()
    read_table({written: "x"}, table, where="file", shared_by="", into=Settings(), faults=faults)
    (fault,) = faults.listed()
    assert fault.where == "file"
    assert f"unknown key '{written}' in [{table}]" in fault.message
    assert fault.hint == hint


def test_a_key_like_nothing_else_is_told_what_there_is() -> None:
    faults = FaultList()
    read_table({"qqq": 1}, "film", where="f", shared_by="", into=Settings(), faults=faults)
    assert faults.listed()[0].hint.startswith("known here: material, thickness, ")


def test_one_level_that_states_a_key_twice_is_told_where() -> None:
    settings = level("scan", {"support": "rim"})
    faults = FaultList()
    read_table(
        {"support": "rim"}, "scan", where="entry", shared_by="", into=settings, faults=faults
    )
    (fault,) = faults.listed()
    assert fault.message == "the same key is stated twice"
    assert fault.hint == "keep one of the two; the other stands at file, scan.support"


def test_keyword_arguments_know_their_names() -> None:
    settings = from_arguments(
        {"post_support": "rim", "substrate": "Si(001)", "offset": None},
        as_options=True,
        shared_by="wafer",
    )
    assert raw_of_scan(settings, "post", "support") == "rim"
    assert raw_of_scan(settings, "pre", "support") is None
    assert settings.substrate["material"].where == "--substrate"
    assert settings.of_scan("post", "offset") is None
    with pytest.raises(UsageError, match="did you mean 'film_thickness'"):
        from_arguments({"film_thicknes": "1 um"}, as_options=False, shared_by="")


def test_every_setting_comes_back_under_its_name_in_the_order_of_the_table() -> None:
    settings = level("scan", {"post_support": "rim", "azimuth": "0 deg", "support": "free"})
    settings = settings.overlaid(level("substrate", {"diameter": "150 mm"}))
    assert [name for name, _ in settings.every()] == [
        "substrate.diameter",
        "scan.azimuth",
        "scan.support",
        "scan.post_support",
    ]
