"""Whatever is typed behind an option: a result, or a message and 2 or 3; never a fault of ours."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from filmstress.inputs.keys import Key, all_keys
from filmstress.inputs.readers import Choice, QuantityRange, Text, UnitWord
from tests.cli._contract import check
from tests.cli._run import Ended, run

FLAGS = sorted("--" + key.argument.replace("_", "-") for key in all_keys())
UNITS = (
    *("nm", "um", "µm", "μm", "mm", "m", "Å", "uin", "mil", "deg", "rad", "MPa", "GPa", "psi"),
    *("dyn/cm^2", "%", "ppm", "", "A", "mPa", "M", "kg/m^3", "degC", "1/m", "1/km"),
)
ODD_NUMBERS = ("1e400", "-0", "0", "1,5", "1.234.567", "1_000", "٣", "0x10", "1e", ".5", "5.")
SPREADS = (
    *("", " ± 2 %", " ± 1", " +/- 1 um", " (exact)", " ± 4 nm (k=2)", " ± 4 nm (k=0)", " ± -1 nm"),
    *(" ± 20 um (limits)", "(20)", " ± 1 um (k=2.26, dof=9)", " ± 0", " ± inf", " ± 300 %"),
)
WORDS = (
    *("up", "down", "both", "rim", "free", "clamped", "flat-stage", "centre", "three-points"),
    *("auto", "yes", "no", "stripped", "witness", "from-lot", "Si(110)", "quartz(AT)", "[110]"),
    *("LiNbO3(128Y)", "1,2", "z", ".", ","),
)
NUMBERS = st.one_of(
    st.integers(-(10**6), 10**6).map(str),
    st.floats(allow_nan=True, allow_infinity=True).map(str),
    st.sampled_from(ODD_NUMBERS),
)
QUANTITIES = st.builds("{} {}{}".format, NUMBERS, st.sampled_from(UNITS), st.sampled_from(SPREADS))
VALUES = st.one_of(
    QUANTITIES,
    st.builds("{}..{}".format, QUANTITIES, QUANTITIES),
    st.sampled_from(WORDS),
    st.text(max_size=20),
)
TRUTHS = sorted(
    option
    for option in run("simulate", "--help").out.split()
    if option.startswith("--")
    and option not in {"--help", "--json", "--points", "--repeats", "--reversed", "--seed"}
)


def _plausible(key: Key) -> st.SearchStrategy[str]:
    """Texts that the key's own reader takes."""
    reader = key.reader
    if isinstance(reader, Choice):
        return st.sampled_from(reader.words)
    if isinstance(reader, Text | UnitWord):
        return st.sampled_from(WORDS if key.argument == "substrate" else [reader.example])
    kind = reader.kind
    size = st.one_of(
        st.floats(kind.low, kind.high),
        st.floats(-1.0, 1.0).map(lambda share: share * min(1.0, kind.high)),
        st.sampled_from([kind.low, kind.high, 0.0]),
    ).filter(lambda value: kind.low <= value <= kind.high)
    unit = "" if kind.si == "1" else f" {kind.si}"
    spread = st.sampled_from(["", " ± 2 %", " ± 100 %", " (exact)", " ± 5 % (k=2, dof=1)"])
    text = st.builds(lambda value, behind: f"{value!r}{unit}{behind}", size, spread)
    if isinstance(reader, QuantityRange):
        return st.builds("{}..{}".format, text, text)
    return text


PLAUSIBLE = st.lists(st.sampled_from(all_keys()), max_size=5, unique=True).flatmap(
    lambda keys: st.fixed_dictionaries(
        {"--" + key.argument.replace("_", "-"): _plausible(key) for key in keys}
    )
)


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    folder = tmp_path_factory.mktemp("fuzz")
    assert run("simulate", str(folder), "--points", "120").code == 0
    return str(folder / "pre-000.csv"), str(folder / "post-000.csv")


def sound(ended: Ended) -> None:
    assert ended.code in {0, 2, 3}, ended.err
    if ended.code == 0:
        check(ended.data)
    else:
        assert ended.err.strip()
        assert "internal" not in ended.err


def measured(pair: tuple[str, str], stated: dict[str, str]) -> Ended:
    usual = {
        "--substrate": "Si(001)",
        "--substrate-thickness": "675 um ± 2 um",
        "--film-thickness": "500 nm",
    }
    # A text that begins with a dash is a value in this form only.
    return run("measure", *pair, *(f"{k}={v}" for k, v in (usual | stated).items()), "--json")


@settings(max_examples=120)
@given(st.dictionaries(st.sampled_from(FLAGS), VALUES, max_size=3))
@example({"--window": "0 mm..0 mm"})
@example({"--film-thickness": "0.2 nm ± 300 %"})
@example({"--substrate-poisson-ratio": "0.4999", "--substrate-youngs-modulus": "1 GPa"})
def test_no_option_value_is_an_internal_error(
    pair: tuple[str, str], stated: dict[str, str]
) -> None:
    sound(measured(pair, stated))


@settings(max_examples=120)
@given(PLAUSIBLE)
def test_nothing_plausible_is_an_internal_error(
    pair: tuple[str, str], stated: dict[str, str]
) -> None:
    sound(measured(pair, stated))


@settings(max_examples=50)
@given(st.text(max_size=15), st.text(max_size=15))
@example("Si(001)", "[001]")
@example("Si(110)", "[000]")
@example("sapphire(c)", "[11-20]")
@example("4H-SiC(0001)", "[110]")
@example("Si(000)", "[110]")
@example("Si(99999999999)", "[1 1 0]")
def test_no_name_of_a_cut_is_an_internal_error(name: str, direction: str) -> None:
    sound(run("substrates", "--json", f"--azimuth-reference={direction}", "--", name))


@settings(max_examples=50)
@given(st.dictionaries(st.sampled_from(TRUTHS), VALUES, min_size=1, max_size=2))
@example({"--drift-length": "1 m"})
@example({"--waviness-length": "10 um"})
def test_no_truth_is_an_internal_error(
    tmp_path_factory: pytest.TempPathFactory, stated: dict[str, str]
) -> None:
    folder: Path = tmp_path_factory.mktemp("truth")
    options = [f"{flag}={value}" for flag, value in stated.items()]
    sound(run("simulate", str(folder), "--points", "60", "--json", *options))


@settings(max_examples=50)
@given(st.lists(st.text(max_size=12), max_size=5))
def test_no_words_at_all_are_an_internal_error(words: list[str]) -> None:
    ended = run(*words)
    assert ended.code in {0, 2, 3}
