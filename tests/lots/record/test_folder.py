"""The folder of records: whole or not at all, whatever happens to the process or to the disk."""

from __future__ import annotations

import errno
import json
import os
import random
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest

from filmstress.errors import RefusedInput
from filmstress.lots.record.folder import add_record, check_folder
from tests.lots.record.chains import BODY, ROOT, whole_chain, writer

KILLS = 20


def test_records_are_chained(tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "records"
    check_folder(folder)
    assert whole_chain(folder) == 0
    written = [add_record(folder, BODY) for _ in range(3)]
    assert whole_chain(folder) == 3
    assert [one.number for one in written] == [1, 2, 3]
    assert [one.previous for one in written] == [None, written[0].sha256, written[1].sha256]
    assert written[0].path.read_text(encoding="utf-8").startswith('{\n "schema"')
    if os.name == "posix":
        assert stat.S_IMODE(written[0].path.stat().st_mode) == 0o444


def test_a_killed_process_leaves_a_whole_record_or_none(tmp_path: Path) -> None:
    dice = random.Random(20)
    for _ in range(KILLS):
        process = writer(tmp_path, 10**6)
        assert process.stdout is not None
        process.stdout.readline()
        time.sleep(dice.uniform(0.0, 0.03))
        process.send_signal(signal.SIGKILL)
        told = process.stdout.read().splitlines()
        process.wait()
        process.stdout.close()
        count = whole_chain(tmp_path)
        # What was told is there; the last line may have been cut.
        assert count >= max(map(int, told[:-1]), default=0)
    number = add_record(tmp_path, BODY).number
    assert whole_chain(tmp_path) == number
    assert not (tmp_path / ".unfinished").exists()


def test_two_writers_at_once(tmp_path: Path) -> None:
    both = [writer(tmp_path, 25) for _ in range(2)]
    told = [process.communicate(timeout=120)[0].split()[1:] for process in both]
    assert [process.returncode for process in both] == [0, 0]
    assert whole_chain(tmp_path) == 50
    assert sorted(int(number) for numbers in told for number in numbers) == list(range(1, 51))


@pytest.mark.skipif(os.name == "nt", reason="limits of a process")
def test_a_full_disk_leaves_no_record(tmp_path: Path) -> None:
    """No file of the process may grow beyond 4 KiB, as on a disk that is full."""
    code = (
        "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))\n"
        "from pathlib import Path\n"
        "from filmstress.errors import RefusedInput\n"
        "from filmstress.lots.record.folder import add_record\n"
        "from tests.lots.record.chains import BODY\n"
        "try:\n    add_record(Path('.'), BODY)\n"
        "except RefusedInput as error:\n    print(error)\n"
    )
    add_record(tmp_path, BODY)
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert "no record can be written here: File too large" in done.stdout
    assert whole_chain(tmp_path) == 1
    assert not (tmp_path / ".unfinished").exists()


@pytest.mark.parametrize("step", ["fsync", "link"])
def test_a_disk_that_fails_leaves_no_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def fails(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, step, fails)
        if step == "link":  # as file systems without links say it; the name is given otherwise
            patched.setattr(Path, "rename", fails)
        with pytest.raises(RefusedInput, match="No space left on device"):
            add_record(tmp_path, BODY)
    assert whole_chain(tmp_path) == 0
    assert add_record(tmp_path, BODY).number == 1


def test_a_file_system_without_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> None:
        raise PermissionError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", fails)
    for _ in range(2):
        add_record(tmp_path, BODY)
    assert whole_chain(tmp_path) == 2


def test_no_record_is_ever_overwritten(tmp_path: Path) -> None:
    add_record(tmp_path, BODY)
    taken = add_record(tmp_path, BODY).path
    before = taken.read_bytes()
    from filmstress.lots.record.folder import _write_whole

    with pytest.raises(FileExistsError):
        _write_whole(tmp_path, b"another", taken)
    assert taken.read_bytes() == before


@pytest.mark.parametrize("place", ["a file", "rights"])
def test_a_folder_that_cannot_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, place: str
) -> None:
    folder = tmp_path / "records"
    if place == "a file":
        folder.write_text("")
    else:
        folder.mkdir()
        folder.chmod(0o500)
        if os.access(folder, os.W_OK):  # rights do not bind this user

            def fails(*_: object) -> None:
                raise PermissionError(errno.EACCES, "Permission denied")

            monkeypatch.setattr(os, "open", fails)
    with pytest.raises(RefusedInput, match="no record can be written here") as error:
        check_folder(folder)
    assert "--record-folder" in error.value.hint
    assert str(folder) in str(error.value)


@pytest.mark.parametrize("harm", ["cut", "edited", "renumbered"])
def test_nothing_is_chained_to_a_record_that_was_changed(tmp_path: Path, harm: str) -> None:
    path = add_record(tmp_path, BODY).path
    raw = path.read_bytes()
    path.chmod(0o644)
    if harm == "cut":
        path.write_bytes(raw[:-200])
    elif harm == "edited":
        path.write_bytes(raw.replace(b'"filmstress": "0"', b'"filmstress": "1"'))
    else:
        path.rename(tmp_path / "0005-K7.json")
    with pytest.raises(RefusedInput):
        check_folder(tmp_path)
    with pytest.raises(RefusedInput):
        add_record(tmp_path, BODY)
    assert len(list(tmp_path.glob("*.json"))) == 1


def test_half_letters_and_odd_values_are_written_as_json_can(tmp_path: Path) -> None:
    body = BODY | {"results": {"file": os.fsdecode(b"\xff.csv"), "pair": (1, 2), "minus": -0.0}}
    add_record(tmp_path, body)
    assert whole_chain(tmp_path) == 1
    record = json.loads(next(tmp_path.glob("*.json")).read_text(encoding="utf-8"))
    assert record["results"]["pair"] == [1, 2]
