"""Texts of 100 KB made to take a reader for ever, by the door they go to."""

from __future__ import annotations

from tests.fuzzing.seeds import LOT, STACK, WAFER

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
]
