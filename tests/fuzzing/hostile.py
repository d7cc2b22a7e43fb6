"""Texts of 100 KB made to take a reader for ever, by the door or the seed that they go to."""

from __future__ import annotations

from collections.abc import Callable

from tests.fuzzing.seeds import LOT, STACK, WAFER, seed_of

SIZE = 100_000
MINIMAL = LOT + WAFER
TABLE = "wafer,azimuth [deg],pre,post,film_thickness [nm]\n01,0,pre.csv,post.csv,503\n"
STUDY = "wafer,operator,bow [um]\n"


def fill(text: str) -> str:
    """As much of a text as makes a file of 100 KB."""
    return text * (SIZE // len(text))


TOKENS = ["a", "1", " ", "-", ".", "_", ",", "[", "(", "a[", "a_", "1,", "0.", " /", "±", "\u0301"]
TOKENS += ['"', "'", "=", ":", "#", "{", "\\", "\t", "\r", "\n", ";", "a.", "a [", "1\n", "1,1\n"]
TOKENS += ["nan", "[[", "- ", "\u00b5", "\U00010400", "٣", "a b ", "x [mm],", "e", "E1", "..", " ]"]


def of_one(token: str) -> list[tuple[str, str]]:
    """Files that are little but one token, wherever a reader may stumble on it."""
    long = fill(token)
    rows = "".join(f"{n},{n % 7}\n" for n in range(30))
    return [
        ("inspect", long),
        ("inspect", f"a{long[:-99]}!\n{rows}"),
        ("inspect", f"# {token * (30_000 // len(token))}\nx [mm],z [um]\n{rows}"),
        ("inspect", f"{token * (30_000 // len(token))}b/c d\n{rows}"),
        ("lot --check", long),
        ("lot --check", MINIMAL.replace("Si(001)", f"Si({long}x)").replace("\n01", "")),
        ("wafer table", long),
        ("wafer table", f"{TABLE[:-1]}{long}\n"),
        ("wafer table", f"wafer,post,a{long}b\n01,a,1\n"),
        ("stack", STACK.replace('"oxide"', f'"{long}"', 1)),
        ("gauge", long),
        ("gauge", f"wafer,bow {long} [um]\n1,1\n1,2\n2,1\n2,2\n"),
        ("gauge", STUDY + f"1,a,{long}\n"),
        ("verify", long),
        ("verify", '{"schema": "filmstress/record/1", "lot": ' + long),
        ("history", long),
        *_of_open_formats(token),
        *_of_steps(token),
    ]


def _of_open_formats(token: str) -> list[tuple[str, str]]:
    long, xml = fill(token), seed_of("X3P, DataList").content.decode()
    sdf = seed_of("SDF, ASCII").content.decode()
    return [
        ("SDF, ASCII", f"aISO-1.0\n{long}"),
        ("SDF, ASCII", sdf.replace("a maker", token * (30_000 // len(token)))),
        ("SDF, ASCII", sdf.replace("Zscale =", f"{token * (30_000 // len(token))} =")),
        ("SDF, ASCII", sdf.replace("aISO", "aBCR").replace("*\n", f"*\n{long}", 1)),
        ("SDF, ASCII", sdf.replace("*\n", f"*\n{long}", 1)),
        ("X3P, DataList", long),
        ("X3P, DataList", xml.replace("PRF", long)),
        ("X3P, DataList", xml.replace("<Datum>0", f"<Datum>{long}", 1)),
        ("X3P, DataList", xml.replace("md5checksum.hex", long)),
        ("X3P, DataList", f"{xml[:-90]}{long}"),
    ]


def _of_steps(token: str) -> list[tuple[str, str]]:
    long = fill(token)
    rows = "".join(f"{token},{n},{n % 7}\n" for n in range(SIZE // 16))
    return [
        ("thickness", long),
        ("thickness", f"x [um],z [nm]\n{long}"),
        ("thickness record", long),
        ("thickness record", '{"schema": "filmstress/thickness/1", "thickness": ' + long),
        ("several scans, a column", f"scan,x [mm],z [um]\n{rows}"),
        ("study of scans", f"wafer,scan\n1,{long}\n"),
    ]


def _steps(rows: int, heights: Callable[[int], float]) -> str:
    return "x [um],z [nm]\n" + "".join(f"{n},{heights(n)}\n" for n in range(rows))


def _map(columns: int, rows: int, heights: Callable[[int], object]) -> str:
    told = {"NumPoints": columns, "NumProfiles": rows, "Xscale": 0.9 / max(columns, rows)}
    told |= {"Yscale": told["Xscale"], "Zscale": 1e-9, "Compression": 0, "DataType": 7}
    head = "".join(f"{name} = {value}\n" for name, value in told.items())
    body = "\n".join(map(str, map(heights, range(columns * rows))))
    return f"aISO-1.0\n{head}CheckType = 0\n*\n{body}\n*\n"


def _scattered(n: int) -> int:
    return n * 7919 % 1009


STEPS: list[tuple[str, str]] = [
    ("thickness", _steps(9000, lambda n: 100 * (n % 2))),
    ("thickness", _steps(9000, lambda n: 100 * (n // 10 % 2))),
    ("thickness", _steps(9000, lambda n: 100 * (n // 100 % 2))),
    ("thickness", _steps(9000, lambda n: 100 * (n // 3000 % 2))),
    ("thickness", _steps(9000, lambda n: n * n)),
    ("thickness", _steps(9000, lambda n: 0 * n)),
    ("thickness", _steps(9000, _scattered)),
    ("thickness", _steps(9000, lambda n: 10.0 ** (n % 300 - 150))),
    ("inspect", "scan,x [mm],z [um]\n" + "".join(f"{n},{n},1\n" for n in range(7000))),
    ("inspect", "scan,x [mm],z [um]\n" + "".join(f"{n % 2},{n},1\n" for n in range(8000))),
    ("inspect", "x [mm],z [um]\n" + fill("1,1\n\n")),
    ("inspect", "x [mm],z [um]\n" + "".join(f"{n % 11},{n}\n" for n in range(12_000))),
    ("inspect", fill("x [mm],z [um]\n1,1\n2,2\n")),
]

MAPS: list[tuple[str, str]] = [
    ("measure, map", _map(220, 220, lambda n: n % 7)),
    ("measure, map", _map(220, 220, _scattered)),
    ("measure, map", _map(150, 150, lambda n: "BAD" if n % 999 else 1)),
    ("measure, map", _map(2, 24_000, lambda n: n % 7)),
    ("measure, map", _map(24_000, 2, lambda n: n % 7)),
    ("measure, map", _map(30, 30, lambda n: 10.0 ** (n % 300 - 150))),
    ("SDF, ASCII", _map(40_000, 1, lambda n: n % 7)),
    ("SDF, ASCII", _map(40_000, 1, _scattered).replace("NumProfiles = 1", "NumProfiles = 1000")),
    ("SDF, ASCII, map", _map(220, 220, _scattered)),
    ("map of a lot", _map(220, 220, _scattered)),
]

FILES: list[tuple[str, str]] = [
    ("inspect", "x [mm],z [um]\n" + "".join(f"{n},1e{9 * n}\n" for n in range(900))),
    ("inspect", "x [mm],z [um]\n" + fill("1e999999999,1\n")),
    ("inspect", "interval: 1e-320 m\nz [um]\n" + fill("1\n")),
    ("inspect", "x [mm],z [um]\n0," + "1" * SIZE + "\n1,1\n" * 20),
    ("inspect", ",".join(map(str, range(20_000))) + "\n"),
    ("inspect", fill("1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16\n")),
    ("lot --check", "a = " + "1" * 5000),
    ("lot --check", "a = " + "1" * SIZE),
    ("lot --check", "a = 1e999999999"),
    ("lot --check", "a = 0x" + "f" * SIZE),
    ("lot --check", "a." * 50_000 + "b = 1"),
    ("lot --check", "[" + "a." * 49_000 + "b]\nc = 1"),
    ("lot --check", "a = " + "[" * 50_000 + "]" * 50_000),
    ("lot --check", "a = " + "{ b = " * 16_000),
    ("lot --check", "".join(f"[a{n}]\n" for n in range(12_000))),
    ("lot --check", MINIMAL + fill("[[wafer]]\n")),
    ("lot --check", MINIMAL + fill('[[wafer]]\nid = "1"\n')),
    ("lot --check", LOT + f"wafer = [{fill('{},')}]"),
    ("lot --check", LOT + "[[wafer]]\nid = '1'\nscans = [" + fill("{},") + "]"),
    ("lot --check", MINIMAL.replace("lot_size = 25", "lot_size = " + "9" * 4000)),
    ("lot", MINIMAL.replace("lot_size = 25", "lot_size = " + "9" * 4000)),
    ("lot", MINIMAL.replace("lot_size = 25", "lot_size = 1000000000000000000")),
    ("lot", MINIMAL.replace('content = "95 %"', 'content = "99.9999999999 %"')),
    ("lot", MINIMAL.replace("confidence = 0.95", "confidence = 0.99999999999999")),
    ("lot", MINIMAL.replace("confidence = 0.9\n", "confidence = 0.5\n")),
    ("lot", MINIMAL.replace("confidence = 0.95", 'confidence = 0.95, aql = "0.0000001 %"')),
    ("lot", MINIMAL.replace("confidence = 0.95", 'confidence = 0.95, aql = "94.99 %"')),
    ("lot", MINIMAL.replace("675 um ± 2 um", "675e-999999999 um")),
    ("lot", MINIMAL.replace("675 um ± 2 um", "675 um ± 2 um (k=2, dof=1e-300)")),
    ("lot", MINIMAL.replace("675 um ± 2 um", "675 um ± 2 um (k=2, dof=1e300)")),
    ("wafer table", TABLE + fill("\n")),
    ("wafer table", TABLE + fill("01\n")),
    ("wafer table", TABLE + fill("x,,,\n")),
    ("wafer table", TABLE + "".join(f"{n},0,a,b,5\n" for n in range(8000))),
    ("wafer table", "wafer,post" + "," * 50_000 + "\n" + "1,a\n" * 12_000),
    ("wafer table", '"' * SIZE),
    ("wafer table", "wafer,post,azimuth\n" + '1,a,"' + "\n" * SIZE),
    ("stack", STACK + fill('[[state]]\nname = "a"\n')),
    ("stack", STACK + "".join(f'[[state]]\nname = "a{n}"\nstrips = "b"\n' for n in range(2500))),
    ("gauge", STUDY + "".join(f"{n},{n},1\n" for n in range(9000))),
    ("gauge", STUDY + "".join(f"{n % 100},{n // 100 % 90},{n}\n" for n in range(9000))),
    ("gauge", "wafer,bow [um]\n" + "".join(f"{n % 2},{n % 11}\n" for n in range(15_000))),
    ("gauge", STUDY + "1,a,1e300\n1,a,-1e300\n2,a,5\n2,a,6\n"),
    ("verify", "[" * SIZE),
    ("verify", '{"a":' * 20_000),
    ("verify", "1" * SIZE),
    ("history", '{"a":' * 20_000),
    ("history", "1" * SIZE),
    ("history", fill('{"schema": "filmstress/record/1"}\n')),
    *STEPS,
    *MAPS,
]
