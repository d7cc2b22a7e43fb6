"""A lot with scans of the wrong wafer is not accepted."""

from __future__ import annotations

from pathlib import Path

from filmstress.lots.batch import measure_lot
from filmstress.lots.manifest import read_lot
from tests.measure._pairs import write_pair

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
    assert "exchanged with another wafer's" in reason
