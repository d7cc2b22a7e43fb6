"""What a user's texts hold is shown as text: by terminals, by spreadsheets, by browsers, in JSON.

Formulas in spreadsheets: the signs are those of OWASP's page "CSV Injection" (from memory).
Control characters of terminals: C0 and C1 of ISO 6429; marks of direction: Unicode UAX 9.
"""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from filmstress.cli.output import json_shown, say, show, show_csv
from tests.cli._run import FILM, POST, PRE, SUBSTRATE, Ended, run
from tests.cli.test_csv import FORMULAS, table
from tests.history.made import record

OBEYED = ("\x1b[2J\x1b[31m", "\x9b31m", "\x07", "\x7f", "\r", "\x08", "\u202e", "\u2066", "\x00")
MARKUP = ("<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "javascript:alert(1)")


def obeys(ended: Ended) -> bool:
    return any(sign in ended.out + ended.err for sign in "".join(OBEYED) if sign not in "[231mJ")


@pytest.mark.parametrize("word", OBEYED)
def test_no_terminal_is_sent_what_it_would_obey(
    word: str, capsys: pytest.CaptureFixture[str]
) -> None:
    show(f"a{word}b\tc\n")
    say(f"a{word}b")
    show_csv(("wafer",), [(f"a{word}b",)])
    out, err = capsys.readouterr()
    assert not set(out + err) & (set(word) - set("[231mJ"))
    assert "\ufffd" in out
    assert "\tc\n" in out


@pytest.mark.parametrize("word", OBEYED)
def test_json_holds_the_same_data_in_harmless_signs(word: str) -> None:
    text = json_shown(json.dumps({"id": word}, ensure_ascii=False, indent=2))
    assert json.loads(text) == {"id": word}
    assert not set(text) & (set(word) - set("[231mJ"))


@pytest.mark.parametrize("word", [word for word in OBEYED if "\x00" not in word])
@pytest.mark.parametrize("form", [(), ("--json",), ("--csv",)])
def test_a_file_name_moves_no_terminal(word: str, form: tuple[str, ...], tmp_path: Path) -> None:
    file = tmp_path / f"a{word}b.csv"
    file.write_bytes(Path(PRE).read_bytes())
    ended = run("inspect", *form, str(file))
    assert ended.code == 0
    assert not obeys(ended)
    if form == ("--json",):
        assert ended.data["scans"][0]["file"] == str(file)
    missing = run("inspect", *form, str(file) + "x")
    assert missing.code == 3
    assert not obeys(missing)


@pytest.mark.parametrize("word", OBEYED)
@pytest.mark.parametrize(
    "text",
    [
        '{} = 1\nlot = "T"\n',
        "lot = {}\n",
        'lot = "T"\n[scan]\n{} = 1\n',
        'lot = "T"\n[scan]\nsupport = {}\n',
        'lot = "T"\n[deposition]\n{} = "1 Pa"\n',
        'lot = "T"\n[substrate]\nmaterial = {}\nthickness = {}\n',
        'lot = "T"\n[[wafer]]\nid = {}\nscans = [{{ pre = {}, post = {} }}]\n',
    ],
)
def test_no_text_of_a_lot_file_moves_a_terminal(word: str, text: str, tmp_path: Path) -> None:
    lot = tmp_path / "lot.toml"
    quoted = json.dumps(f"a{word}b").replace("\x7f", "\\u007f")
    lot.write_text(text.replace("{}", quoted).replace("{{", "{").replace("}}", "}"))
    for more in ((), ("--check",), ("--check", "--json")):
        ended = run("lot", str(lot), *more)
        assert ended.code in {2, 3}
        assert not obeys(ended)


@pytest.mark.parametrize("word", [*OBEYED, *FORMULAS, *MARKUP])
def test_no_text_of_a_record_moves_a_terminal(word: str, tmp_path: Path) -> None:
    place = str(tmp_path / "history.sqlite")
    file = tmp_path / "records.jsonl"
    lots = [record(n, lot=f"{word}{n}", recipe=word, tool=word) for n in range(1, 6)]
    file.write_text("\n".join(map(json.dumps, lots)), encoding="utf-8")
    ended = run("history", "import", str(file), "--history", place)
    assert ended.code in {0, 3}
    for words in (
        ("history", "lots"),
        ("history", "lots", "--json"),
        ("history", "wafers"),
        ("history", "recipes"),
        ("history", "show", "1"),
        ("history", "export"),
        ("chart", word or "-"),
    ):
        shown = run(*words[:1], *words[1:], "--history", place)
        assert shown.code in {0, 2, 3}
        assert not obeys(shown)
    for words in (("lots",), ("wafers",), ("recipes",)):
        listed = run("history", *words, "--csv", "--history", place)
        for row in table(listed.out):
            for cell in row.values():
                assert not cell.lstrip(" ").startswith(("=", "@", "\t", "\r", "\n"))
                if cell.startswith(("+", "-")):
                    float(cell)  # numbers stay numbers
    again = tmp_path / "again.jsonl"
    again.write_text(run("history", "export", "--history", place).out, encoding="utf-8")
    assert "0 new" in run("history", "import", str(again), "--history", place).err


def test_negative_numbers_of_a_table_stay_numbers(capsys: pytest.CaptureFixture[str]) -> None:
    show_csv(("=a", "b"), [(-1.5, "-1.5"), ("＝1", " =1"), (None, "a=1")])
    rows = list(csv.reader(io.StringIO(capsys.readouterr().out)))
    assert rows == [["'=a", "b"], ["-1.5", "'-1.5"], ["'＝1", "' =1"], ["", "a=1"]]


@pytest.mark.parametrize("words", [("measure",), ("measure", "--profile-csv")])
def test_every_cell_of_a_budget_that_is_a_number_is_one(words: tuple[str, ...]) -> None:
    form = words[1:] or ("--csv",)
    ended = run("measure", PRE, POST, *SUBSTRATE, *FILM, *form)
    assert ended.code == 0
    for row in table(ended.out):
        assert not any(cell.startswith("'") for cell in row.values())


@pytest.mark.parametrize("word", MARKUP)
def test_a_report_from_hostile_texts_has_no_element_of_theirs(word: str, tmp_path: Path) -> None:
    name = word.replace("/", "_")
    pre, post = tmp_path / f"pre {name}.csv", tmp_path / f"post {name}.csv"
    pre.write_bytes(Path(PRE).read_bytes())
    post.write_bytes(Path(POST).read_bytes())
    lot = tmp_path / "lot.toml"
    lot.write_text(
        f"lot = {json.dumps(word)}\nrecipe = {json.dumps(word)}\n[substrate]\n"
        'material = "Si(001)"\nthickness = "675 um ± 2 um"\n'
        f"[deposition]\ntool = {json.dumps(word)}\n{json.dumps(word)} = {json.dumps(word)}\n"
        f"[[wafer]]\nid = {json.dumps(word)}\n"
        f"scans = [{{ pre = {json.dumps(pre.name)}, post = {json.dumps(post.name)} }}]\n",
        encoding="utf-8",
    )
    page = tmp_path / "page.html"
    ended = run("lot", str(lot), "--report", str(page))
    assert ended.code in {0, 3}, ended.err
    if ended.code == 0:
        text = page.read_text(encoding="utf-8")
        for bad in ("<script", "<img src=x", 'href="javascript', "onerror=alert(1)>"):
            assert bad not in text
