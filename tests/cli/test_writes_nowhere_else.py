"""Whatever names a lot file holds, nothing is written but what and where it was asked for."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from tests.cli._run import run
from tests.fuzzing.seeds import LOT, WAFER, seeds

PAIR = next(one for one in seeds() if one.door == "lot").beside
NAMES = (
    *("../../x", "/tmp/x", "..", ".", "a/b", "a\\b", "C:\\x", "~/x", "$HOME", "con", "x.json"),
    *("%2e%2e%2fx", "．．／x", "file:///x", "-rf", "|x", "a;b", "`x`", "x" * 300, " ", "😀/.."),
)


def tree(folder: Path) -> dict[str, bytes | None]:
    """Every file below a folder with its bytes; a link with where it leads."""
    found: dict[str, bytes | None] = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink():
            found[name] = os.fsencode(path.readlink())
        elif path.is_file():
            found[name] = path.read_bytes()
    return found


def lay(folder: Path, text: str) -> Path:
    folder.mkdir(parents=True)
    for name, content in PAIR.items():
        (folder / name).write_bytes(content)
    lot = folder / "lot.toml"
    lot.write_text(text, encoding="utf-8")
    return lot


@pytest.mark.parametrize("turn", range(0, len(NAMES), 4))
def test_a_name_leads_nowhere(turn: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Names of lot, recipe, tool and wafer; those of records by themselves are in lots/record."""
    text = LOT + WAFER
    for stated, name in zip(('"K7"', '"nitride"', '"P2"', '"01"'), NAMES[turn:], strict=False):
        text = text.replace(stated, json.dumps(name, ensure_ascii=False))
    lot = lay(tmp_path / "a" / "b" / "c", text)
    out, work, spare = (tmp_path / "a" / part for part in ("out", "work", "tmp"))
    for folder in (out, work, spare):
        folder.mkdir()
    monkeypatch.chdir(work)
    monkeypatch.setenv("TMPDIR", str(spare))
    before = tree(tmp_path)
    ended = run(
        *("lot", str(lot), "--record", "--history", str(out / "h.sqlite")),
        *("--report", str(out / "r.html"), "--figure", str(out / "f.svg")),
    )
    after = tree(tmp_path)
    assert ended.code in {0, 1, 3}
    assert {path: after[path] for path in before} == before
    new = set(after) - set(before)
    records = {path for path in new if path.startswith("a/b/c/records/")} - {"a/b/c/records/.lock"}
    wanted = {"a/b/c/records/.lock", "a/out/h.sqlite", "a/out/r.html", "a/out/f.svg"}
    assert new - records <= wanted
    if ended.code < 2:
        (record,) = records
        assert record.startswith("a/b/c/records/0001-")
        assert record.count("/") == 4
        assert len(os.fsencode(Path(record).name)) < 256
        verified = run("verify", str(tmp_path / record))
        assert verified.code == 0
        assert tree(tmp_path) == after


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_a_link_in_the_place_of_an_output_is_replaced_and_not_followed(tmp_path: Path) -> None:
    lot = lay(tmp_path / "lot", LOT + WAFER)
    precious = tmp_path / "precious"
    precious.write_text("keep", encoding="utf-8")
    out, records = tmp_path / "out", tmp_path / "lot" / "records"
    out.mkdir()
    records.mkdir()
    for link in (out / "r.html", out / "f.svg", records / "0001-K7.json", records / ".unfinished"):
        link.symlink_to(precious)
    ended = run(
        *("lot", str(lot), "--report", str(out / "r.html"), "--figure", str(out / "f.svg")),
        *("--record-folder", str(tmp_path / "new")),
    )
    assert ended.code in {0, 1}, ended.err
    refused = run("lot", str(lot), "--record")
    assert refused.code == 3  # what stands for the last record is none
    (records / "0001-K7.json").unlink()
    (records / ".unfinished").symlink_to(precious) if not (
        records / ".unfinished"
    ).is_symlink() else None
    assert run("lot", str(lot), "--record").code in {0, 1}
    (records / ".lock").unlink()
    (records / ".lock").symlink_to(precious)
    assert run("lot", str(lot), "--record").code == 3
    assert precious.read_text(encoding="utf-8") == "keep"
    assert not (out / "r.html").is_symlink()
    assert not (records / "0001-K7.json").is_symlink()


def test_no_record_reads_from_a_pipe_or_device(tmp_path: Path) -> None:
    lot = lay(tmp_path / "lot", LOT + WAFER)
    assert run("lot", str(lot), "--record").code in {0, 1}
    (record,) = (tmp_path / "lot" / "records").glob("*.json")
    data = json.loads(record.read_text(encoding="utf-8"))
    for path in ("/dev/zero", "/dev/stdin", str(tmp_path), "/proc/self/mem", "x" * 5000):
        data["files"][0]["path"] = data["lot_file"]["path"] = path
        forged = tmp_path / "lot" / "records" / "0002-K7.json"
        forged.write_text(json.dumps(data), encoding="utf-8")
        ended = run("verify", str(forged))
        assert ended.code in {1, 3}
    for text in ("/dev/zero", "/dev/stdin", str(tmp_path), "\\u0000"):
        bad = tmp_path / "lot" / "bad.toml"
        bad.write_text((LOT + WAFER).replace("post.csv", text), encoding="utf-8")
        assert run("lot", str(bad)).code == 3
        bad.write_text(LOT.replace("recipe", f'wafers = "{text}"\nrecipe'), encoding="utf-8")
        assert run("lot", str(bad)).code == 3
    for words in (
        ("gauge",),
        ("stack",),
        ("verify",),
        ("history", "import"),
        ("inspect",),
        ("history", "correct", "1"),
    ):
        for path in ("/dev/zero", "/dev/null", str(tmp_path), "a\0b", "", str(tmp_path / "none")):
            assert run(*words, path).code in {2, 3}, (words, path)
