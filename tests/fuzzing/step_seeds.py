"""Sound files of several scans, of steps, of a lot's parts, and of studies with scans."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np

from tests.cli._run import run
from tests.fuzzing.open_seeds import maps, sdf_text
from tests.fuzzing.seeds import LOT, WAFER, Seed, drawn, seed


@seed
def _several() -> Iterator[Seed]:
    pre, post = (text.decode() for text in drawn())
    head, rows = post.split("\n", 1)
    other = "\n".join(f"{row}{n % 10}" for n, row in enumerate(rows.split("\n")[:-1])) + "\n"
    first = pre.split("\n", 1)[1]
    files = {
        "heads again": f"{head}\n{first}{head}\n{rows}{head}\n{other}",
        "a column": "scan,"
        + "".join(
            [f"{head}\n"]
            + [
                f"{name},{row}\n"
                for name, part in (("a", first), ("b", rows), ("c", other))
                for row in part.split("\n")[:-1]
            ]
        ),
        "blank lines": f"{head}\n{first}\n\n{rows}\n\n{other}",
    }
    for name, text in files.items():
        yield Seed(f"several scans, {name}", "inspect", "scans.csv", text.encode())
        beside = {"pre.csv": pre.encode()}
        yield Seed(
            f"pair, several scans, {name}", "measure, third scan", "s.csv", text.encode(), beside
        )
    yield Seed("scan, written anew", "export", "scan.csv", post.encode())


@cache
def _steps() -> bytes:
    """A groove of 200 nm between two strips of film, and another, with noise."""
    x = np.arange(300) * 2.0
    z = np.where((x // 100) % 2 == 1, 0.0, 200.0)
    z += 0.02 * x + np.random.default_rng(4).normal(0.0, 0.7, x.size)
    rows = [f"{a:.1f},{b:.2f}" for a, b in zip(x, z, strict=True)]
    return "\n".join(["x [um],z [nm]", *rows, ""]).encode()


@seed
def _step_scans() -> Iterator[Seed]:
    steps = _steps()
    yield Seed("steps", "thickness", "step.csv", steps)
    table = steps.replace(b",", b"\t").replace(b"\n", b"\r\n")
    yield Seed("steps, tab", "thickness", "step.csv", table)
    x, z = np.array([row.split(b",") for row in steps.split(b"\n")[1:-1]], np.float64).T
    yield Seed("steps, SDF", "thickness", "step.sdf", sdf_text(z * 1e-9, 1e-6 * float(x[1])))


@cache
def _thickness_record() -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        scan = Path(folder, "step.csv")
        scan.write_bytes(_steps())
        ended = run("thickness", str(scan), "--json")
        assert ended.code == 0, ended.err
        return ended.out.replace(f"{folder}/", "").encode()


@seed
def _parts_of_a_lot() -> Iterator[Seed]:
    pre, post = drawn()
    record = _thickness_record()
    lot = LOT.replace('"500 nm ± 1 %"', '"from 01.json"').replace("K7", "K8") + WAFER
    beside = {"pre.csv": pre, "post.csv": post, "step.csv": _steps(), "lot.toml": lot.encode()}
    yield Seed("thickness record", "in a lot", "01.json", record, beside)
    yield Seed("scan of a lot", "in a lot", "post.csv", post, {**beside, "01.json": record})
    pitch, before, after = maps()
    wafer = WAFER.replace(".csv", ".sdf").replace('azimuth = "0 deg", ', "")
    files = {"pre.sdf": sdf_text(before, pitch), "post.sdf": sdf_text(after, pitch)}
    text = (LOT + wafer).encode()
    yield Seed(
        "map of a lot", "in a lot", "post.sdf", files["post.sdf"], files | {"lot.toml": text}
    )
    yield Seed("lot of maps", "lot", "lot.toml", text, files)


@seed
def _scans_of_a_gauge() -> Iterator[Seed]:
    pre, post = (text.decode() for text in drawn())
    beside, rows, entries = {"pre.csv": pre.encode()}, ["wafer,operator,scan"], []
    for wafer in (1, 2):
        scans = []
        for repeat in range(4):
            name = f"{wafer}-{repeat}.csv"
            head, *lines = (pre if wafer == 1 else post).split("\n")[:-1]
            noise = np.random.default_rng(10 * wafer + repeat).normal(0.0, 0.02, len(lines))
            cells = zip((line.split(",") for line in lines), noise, strict=True)
            lines = [f"{x},{float(z) + more:.6f}" for (x, z), more in cells]
            beside[name] = "\n".join([head, *lines, ""]).encode()
            rows.append(f"{wafer},{'AB'[repeat % 2]},{name}")
            scans.append(f'{{ azimuth = "0 deg", pre = "pre.csv", post = "{name}" }}')
        entries.append(f'[[wafer]]\nid = "{wafer}"\nscans = [\n' + ",\n".join(scans) + "\n]\n")
    table, lot = "\n".join([*rows, ""]).encode(), (LOT + "".join(entries)).encode()
    yield Seed("study of scans", "gauge", "study.csv", table, beside)
    yield Seed("study of a lot", "gauge", "lot.toml", lot, beside)
    files = beside | {"study.csv": table}
    yield Seed("scan of a study", "gauge of scans", "1-2.csv", beside["1-2.csv"], files)
