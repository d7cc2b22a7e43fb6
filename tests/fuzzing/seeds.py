"""Sound files that are mutated and sent through doors.

Another format is a function that gives a sound file's bytes, under ``@seed``.
"""

from __future__ import annotations

import gzip
import json
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from tests.cli._run import DEMO, run
from tests.history.made import record as made_record

POINTS = 160
Pack = Callable[[bytes], bytes]


def unpacked(content: bytes) -> bytes:
    """The file is what was mutated."""
    return content


@dataclass(frozen=True, slots=True)
class Seed:
    """A sound file.

    Attributes
    ----------
    name, door : str
        What it is called, and the door it is sent through.
    file : str
        Its name in its folder.
    content : bytes
        What is mutated.
    beside : dict
        Files that lie in the same folder.
    pack : callable
        Makes the file of the content: lengths and checksums come out right, so that the reader
        behind them is reached.
    """

    name: str
    door: str
    file: str
    content: bytes
    beside: dict[str, bytes] = field(default_factory=dict)
    pack: Pack = unpacked


_SEEDS: list[Callable[[], Iterator[Seed]]] = []


def seed(function: Callable[[], Iterator[Seed]]) -> Callable[[], Iterator[Seed]]:
    """Enter a function that gives seeds."""
    _SEEDS.append(function)
    return function


@cache
def seeds() -> tuple[Seed, ...]:
    """All sound files."""
    import tests.fuzzing.open_seeds
    import tests.fuzzing.step_seeds  # noqa: F401

    return tuple(one for function in _SEEDS for one in function())


@cache
def drawn(style: str = "plain") -> tuple[bytes, bytes]:
    """A pair of scans in one of the styles of ``simulate``."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        ended = run("simulate", folder, "--points", str(POINTS), "--style", style)
        assert ended.code == 0, ended.err
        pre, post = (Path(path) for path in ended.out.split()[:2])
        return pre.read_bytes(), post.read_bytes()


@seed
def _scans() -> Iterator[Seed]:
    for style in ("plain", "semicolon", "tab", "headed", "interval"):
        pre, post = drawn(style)
        yield Seed(f"scan, {style}", "inspect", "scan.csv", post, {})
        yield Seed(f"pair, {style}", "measure", "post.csv", post, {"pre.csv": pre})
    pre, post = drawn()
    packed = gzip.compress(post, mtime=0)
    yield Seed("scan, gzip", "inspect", "scan.csv.gz", packed)
    yield Seed("scan, in gzip", "inspect", "scan.csv.gz", post, pack=gzip.compress)
    yield Seed("scan, UTF-16", "inspect", "scan.csv", post.decode().encode("utf-16"), {})
    words = b'"x [mm]";"note";"z [um]"\n' + b"\n".join(
        b'"%s";"a";"%s"' % tuple(row.replace(b".", b",").split(b";"))
        for row in post.replace(b",", b";").split(b"\n")[1:-1]
    )
    yield Seed("scan, quoted, with words", "inspect", "scan.csv", words, {})


LOT = """\
lot = "K7"
recipe = "nitride"
[substrate]
material = "Si(001)"
azimuth_reference = "[110]"
diameter = "150 mm"
thickness = "675 um ± 2 um"
[film]
thickness = "500 nm ± 1 %"
modulus = "260 GPa ± 20 GPa"
face = "up"
[scan]
support = "three-points"
position_scale_uncertainty = "0.1 %"
bow_repeatability = "15 nm"
[specification]
lower = "150 MPa"
upper = "250 MPa"
confidence = 0.9
spread_max = "20 MPa"
sampling = { lot_size = 25, content = "95 %", confidence = 0.95 }
[deposition]
tool = "P2"
date = 2026-03-14
pressure = "0.6 Pa"
"""
WAFER = (
    '[[wafer]]\nid = "01"\nscans = [{ azimuth = "0 deg", pre = "pre.csv", post = "post.csv" }]\n'
)


@seed
def _lots() -> Iterator[Seed]:
    pre, post = drawn()
    beside = {"pre.csv": pre, "post.csv": post}
    yield Seed("lot file", "lot --check", "lot.toml", (LOT + WAFER).encode(), beside)
    yield Seed("lot file, measured", "lot", "lot.toml", (LOT + WAFER).encode(), beside)
    table = (
        "wafer,azimuth [deg],pre,post,film_thickness [nm],film_thickness_u [nm],post_origin [mm]\n"
        "01,0,pre.csv,post.csv,503,3,-60\n02,0,pre2.csv,post2.csv,500.5,3.5,\n"
    )
    beside |= {"pre2.csv": pre + b"\n", "post2.csv": post + b"\n"}
    lot = LOT.replace("recipe", 'wafers = "wafers.csv"\nrecipe')
    yield Seed(
        "wafer table",
        "wafer table",
        "wafers.csv",
        table.encode(),
        {**beside, "lot.toml": lot.encode()},
    )


STACK = """\
name = "S1"
[substrate]
material = "Si(110)"
azimuth_reference = "[001]"
thickness = "675 um ± 2 um"
[scan]
length = "120 mm"
bare_bow = "2 um ± 1 um"
[[state]]
name = "bare"
[[state]]
name = "oxide"
[state.layer]
thickness = "500 nm ± 1 %"
stress = "-280 MPa ± 14 MPa"
face = "down"
modulus = "87 GPa ± 4 GPa"
expansion = "0.5 ppm/K ± 0.1 ppm/K"
deposited_at = "400 degC ± 5 degC"
measured_at = "22 degC ± 1 degC"
[[state]]
name = "strip"
strips = "oxide"
[balance]
target_bow = "-5 um"
layer = { stress = "-300 MPa ± 9 MPa", face = "up" }
"""


@seed
def _stacks() -> Iterator[Seed]:
    pre, post = drawn()
    text = (DEMO / "stack" / "stack.toml").read_bytes()
    scans = dict.fromkeys(
        ("bare-000.csv", "oxide-000.csv", "nitride-000.csv", "anneal-000.csv"), post
    )
    names = {name: pre if number % 2 else post for number, name in enumerate(scans)}
    marked = {
        name: content + b"\n" * number for number, (name, content) in enumerate(names.items())
    }
    yield Seed("stack file", "stack", "stack.toml", text, marked)
    yield Seed("stack file, nothing scanned", "stack", "stack.toml", STACK.encode(), {})


@seed
def _studies() -> Iterator[Seed]:
    rows = [
        f"{wafer},{operator},{trial},{10.0 * wafer + 0.1 * trial + 0.03 * (wafer * trial % 3)}"
        for wafer in (1, 2, 3, 4) for operator in "AB" for trial in (1, 2)
    ]  # fmt: skip
    yield Seed(
        "study",
        "gauge",
        "study.csv",
        "\n".join(["wafer,operator,trial,bow [um]", *rows]).encode(),
        {},
    )


@cache
def _recorded() -> bytes:
    import tempfile

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        pre, post = drawn()
        (folder / "pre.csv").write_bytes(pre)
        (folder / "post.csv").write_bytes(post)
        (folder / "lot.toml").write_text(LOT + WAFER, encoding="utf-8")
        run("lot", str(folder / "lot.toml"), "--record", "--history", str(folder / "h.sqlite"))
        (record,) = (folder / "records").glob("*.json")
        return record.read_bytes()


@seed
def _records() -> Iterator[Seed]:
    pre, post = drawn()
    record = _recorded()
    compact = json.dumps(json.loads(record)).encode()
    beside = {"../pre.csv": pre, "../post.csv": post, "../lot.toml": (LOT + WAFER).encode()}
    yield Seed("record", "verify", "0001-K7.json", record, beside)
    yield Seed("record, into the history", "history", "0001-K7.json", record, {})
    yield Seed("record, in one line", "history", "0001-K7.json", compact, {})
    lots = [
        made_record(
            number,
            lot=f"A{number}",
            recipe=("nitride", "oxide")[number % 2],
            stresses=(-2e8 + 3e6 * number, -2.05e8 + 2e6 * (number * 7 % 5)),
            date=f"2026-03-{number + 1:02}",
            pressure=0.5 + 0.02 * number,
        )
        for number in range(12)
    ]
    export = "\n".join(json.dumps(lot) for lot in lots)
    yield Seed("records of twelve lots", "history", "export.jsonl", export.encode(), {})


QUANTITIES = (
    *("525 um", "525 um (exact)", "525 um ± 2 um", "525 ± 2 um", "525.0(20) um", "0.28 ± 0.01"),
    *("525 um ± 4 um (k=2)", "525 um ± 4 um (k=2.26, dof=9)", "525 um ± 20 um (limits)", "90 deg"),
    *("260 GPa +/- 0.4 %", "-40 mm..30 mm", "2 % ± 1 %", "1.8e11 Pa", "9.8 m/s^2"),
)


@seed
def _texts() -> Iterator[Seed]:
    for text in QUANTITIES:
        yield Seed("quantity", "quantity", "text", text.encode(), {})


def seed_of(wanted: str) -> Seed:
    """The seed of a name, or the first that goes through a door."""
    return next(one for one in seeds() if wanted in (one.name, one.door))


def lay_out(one: Seed, folder: Path) -> Path:
    """Lay a seed's files into a folder of its own; gives the place of the file to mutate."""
    shutil.rmtree(folder, ignore_errors=True)
    inner = folder / "in"
    inner.mkdir(parents=True)
    for name, content in one.beside.items():
        (inner / name).write_bytes(content)
    return inner / one.file
