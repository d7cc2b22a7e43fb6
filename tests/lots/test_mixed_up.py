"""A lot with scans of the wrong wafer is not accepted."""

from __future__ import annotations

import math
import shutil
from pathlib import Path

import numpy as np
import pytest

from filmstress.lots.batch import measure_lot
from filmstress.lots.manifest import read_lot
from filmstress.records.lot import LotResult
from filmstress.records.notice import RefusalCode, WarningCode
from tests.measure._pairs import waviness, write_pair, write_scan

HEAD = """
lot = "X"
[substrate]
material = "Si(001)"
thickness = "525 um ± 2 um"
[film]
thickness = "1 um ± 2 %"
[scan]
support = "three-points"
[specification]
lower = "50 MPa"
upper = "150 MPa"
"""


def decided(folder: Path, pairs: dict[str, tuple[str, str]]) -> tuple[str | None, str, set[str]]:
    wafers = [
        f'[[wafer]]\nid = "{name}"\n'
        f'scans = [{{ azimuth = "0 deg", pre = "{pre}", post = "{post}" }}]'
        for name, (pre, post) in pairs.items()
    ]
    path = folder / "lot.toml"
    path.write_text(HEAD + "\n".join(wafers), encoding="utf-8")
    result = measure_lot(read_lot(path))
    codes = {
        notice.code.value
        for outcome in result.wafers
        if outcome.result is not None
        for notice in outcome.result.warnings
    }
    return result.decision, result.reason, codes


def test_exchanged_scans_block_acceptance(tmp_path: Path) -> None:
    one = write_pair(tmp_path, change_per_m=0.0121, seed=11)
    two = write_pair(tmp_path, change_per_m=0.0120, seed=12)
    right = decided(tmp_path, {"01": one, "02": two})
    assert right[0] == "accepted", right
    decision, reason, codes = decided(tmp_path, {"01": (one[0], two[1]), "02": (two[0], one[1])})
    assert "swap-suspected" in codes
    assert decision == "undecided", reason
    assert "exchanged with others" in reason


def wafer(name: str, *scans: tuple[int, str, str], more: str = "") -> str:
    entries = ", ".join(
        f'{{ azimuth = "{azimuth} deg", pre = "{pre}", post = "{post}"{more} }}'
        for azimuth, pre, post in scans
    )
    return f'[[wafer]]\nid = "{name}"\nscans = [{entries}]\n'


def measured(folder: Path, *wafers: str) -> LotResult:
    path = folder / "lot.toml"
    path.write_text(HEAD + "".join(wafers), encoding="utf-8")
    return measure_lot(read_lot(path))


def copied(path: str, name: str) -> str:
    return str(shutil.copy(path, Path(path).with_name(name)))


def pairs(folder: Path, *seeds: int) -> list[tuple[str, str]]:
    return [write_pair(folder, change_per_m=0.012 + 1e-5 * seed, seed=seed) for seed in seeds]


@pytest.mark.parametrize(
    "case",
    [
        "one scan before for two wafers",
        "one scan after for two wafers",
        "a copy under another name",
        "before and after are one file",
        "90 deg names the files of 0 deg",
        "90 deg names the scan after of 0 deg",
        "a repeat that is none",
        "after of the one is before of the other",
    ],
)
def test_the_same_bytes_where_they_must_differ_are_refused(tmp_path: Path, case: str) -> None:
    (a, b), (c, d), (e, f) = pairs(tmp_path, 11, 12, 13)
    two = {
        "one scan before for two wafers": [((0, a, b),), ((0, a, d),)],
        "one scan after for two wafers": [((0, a, b),), ((0, c, b),)],
        "a copy under another name": [((0, a, b),), ((0, c, copied(b, "copy.csv")),)],
        "before and after are one file": [((0, a, a),)],
        "90 deg names the files of 0 deg": [((0, a, b), (90, a, b))],
        "90 deg names the scan after of 0 deg": [((0, a, b), (90, c, b))],
        "a repeat that is none": [((0, a, b), (0, a, b))],
        "after of the one is before of the other": [((0, a, b),), ((0, b, d),)],
    }[case]
    wafers = [wafer(f"{number:02}", *scans) for number, scans in enumerate(two, start=1)]
    result = measured(tmp_path, *wafers, wafer("99", (0, e, f)))
    codes = {
        outcome.id: outcome.refusal.code if outcome.refusal else None for outcome in result.wafers
    }
    expected = {f"{n:02}": RefusalCode.SAME_SCAN for n in range(1, len(two) + 1)}
    assert codes == {**expected, "99": None}
    assert result.decision == "undecided"
    assert "refused, which blocks acceptance" in result.reason
    for outcome in result.wafers[:-1]:
        assert outcome.stress is None
        assert outcome.result is not None
        assert outcome.result.refusal == outcome.refusal
        assert ".csv" in (outcome.refusal.message if outcome.refusal else "")


def test_one_file_may_hold_both_scans_in_two_columns(tmp_path: Path) -> None:
    """Common practice, no source: a gauge exports before and after beside each other."""
    pre, post = write_pair(tmp_path, change_per_m=0.0121, seed=11)
    rows = [Path(path).read_text().splitlines()[1:] for path in (pre, post)]
    both = tmp_path / "both.csv"
    lines = [f"{one},{other.split(',')[1]}" for one, other in zip(*rows, strict=True)]
    both.write_text("x [mm],before [um],after [um]\n" + "\n".join(lines) + "\n")
    more = ', pre_columns = "1,2", post_columns = "1,3"'
    result = measured(tmp_path, wafer("01", (0, str(both), str(both)), more=more))
    assert result.decision == "accepted", result.reason
    apart = measured(tmp_path, wafer("01", (0, pre, post)))
    assert result.statistics.mean == apart.statistics.mean
    more = ', pre_columns = "1,2", post_columns = "x,before"'
    result = measured(tmp_path, wafer("01", (0, str(both), str(both)), more=more))
    (outcome,) = result.wafers
    assert outcome.refusal is not None
    assert outcome.refusal.code is RefusalCode.SAME_SCAN


def test_equal_heights_under_other_bytes_are_no_measurement(tmp_path: Path) -> None:
    pre, _ = write_pair(tmp_path, change_per_m=0.0121, seed=11)
    resaved = tmp_path / "resaved.csv"
    resaved.write_text(Path(pre).read_text().replace("\n", "\n\n", 1).replace("x [mm]", "pos [mm]"))
    (outcome,) = measured(tmp_path, wafer("01", (0, pre, str(resaved)))).wafers
    assert outcome.refusal is not None
    assert outcome.refusal.code is RefusalCode.SAME_SCAN
    assert "the same heights" in outcome.refusal.message


def test_exchanged_azimuths_block_acceptance(tmp_path: Path) -> None:
    (a, b), (c, d) = pairs(tmp_path, 11, 12)
    right = measured(tmp_path, wafer("01", (0, a, b), (90, c, d)))
    assert right.decision == "accepted", right.reason
    result = measured(tmp_path, wafer("01", (0, a, d), (90, c, b)))
    assert result.decision == "undecided"
    (outcome,) = result.wafers
    assert outcome.result is not None
    told = [n.message for n in outcome.result.warnings if n.code is WarningCode.SWAP_SUSPECTED]
    assert len(told) == 1, told
    assert "wafer 01 along 0 deg and 90 deg do not fit" in told[0]
    assert "files of the azimuths exchanged?" in told[0]


def test_a_swap_of_two_azimuths_is_told_once(tmp_path: Path) -> None:
    (a, b), (c, d), (e, f), (g, h) = pairs(tmp_path, 11, 12, 13, 14)
    result = measured(
        tmp_path, wafer("01", (0, a, f), (90, c, h)), wafer("02", (0, e, b), (90, g, d))
    )
    for outcome, other in zip(result.wafers, ("02", "01"), strict=True):
        assert outcome.result is not None
        told = [n.message for n in outcome.result.warnings if n.code is WarningCode.SWAP_SUSPECTED]
        assert len(told) == 1
        assert f"those of wafer {other}" in told[0]
    assert "the scans of wafers 01, 02 seem to be exchanged" in result.reason
    assert "may not be of the same wafer" not in result.reason


def test_a_scan_of_nobody_blocks_acceptance(tmp_path: Path) -> None:
    """The wafer whose scan after it really is, is not in the lot: nothing fits."""
    (a, _), (_, d), (e, f) = pairs(tmp_path, 11, 12, 13)
    result = measured(tmp_path, wafer("03", (0, a, d)), wafer("04", (0, e, f)))
    assert result.decision == "undecided"
    assert "the scans of wafer 03 may not be of the same wafer or line" in result.reason
    assert "04" not in result.reason


def test_scans_too_smooth_to_tell_do_not_block(tmp_path: Path) -> None:
    x = np.linspace(-0.04, 0.04, 801)
    rng = np.random.default_rng(5)
    names = []
    for name, curvature in (("pre", 0.002), ("post", 0.0141)):
        z = 0.5 * curvature * x**2 + rng.normal(scale=2e-9, size=x.size)
        names.append(write_scan(tmp_path / f"{name}.csv", x, z))
    result = measured(tmp_path, wafer("01", (0, names[0], names[1])))
    (outcome,) = result.wafers
    assert outcome.result is not None
    assert WarningCode.LOW_MATCH in {notice.code for notice in outcome.result.warnings}
    assert "same wafer or line" not in result.reason


def test_repeats_on_one_scan_before_are_not_independent(tmp_path: Path) -> None:
    """Of two scans' equal noise the one before stays: u^2 = (1/2 + 1/2n) of a single pair's."""
    x = np.linspace(-0.04, 0.04, 801)
    before = waviness(3)(x) + 0.5 * 0.002 * x**2
    rng = np.random.default_rng(6)
    repeats = 4

    def written(name: str, curvature: float) -> str:
        z = before + 0.5 * curvature * x**2 + rng.normal(scale=2e-9, size=x.size)
        return write_scan(tmp_path / name, x, z)

    pres = [written(f"pre-{i}.csv", 0.0) for i in range(repeats)]
    posts = [written(f"post-{i}.csv", 0.0121) for i in range(repeats)]

    def share(pre_of: list[str]) -> float:
        entries = [(0, pre, post) for pre, post in zip(pre_of, posts, strict=True)]
        (outcome,) = measured(tmp_path, wafer("01", *entries)).wafers
        assert outcome.result is not None
        rows = [row.term for row in outcome.result.budget.rows]
        fit = [row.contribution for row in rows if row.input.startswith("curvature fit")]
        return math.hypot(*fit)

    ratio = share([pres[0]] * repeats) / share(pres)
    assert ratio == pytest.approx(math.sqrt((0.5 + 0.5 / repeats) * repeats), rel=0.15)
