"""A history in a file and one on a real server, for the same tests."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa

from filmstress.history.store import History, open_history

SERVER = "FILMSTRESS_TEST_POSTGRES"


def _program(name: str) -> str | None:
    places = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    return shutil.which(name) or next(
        (str(place / name) for place in places if (place / name).exists()), None
    )


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """Address of a server that these tests may fill, "postgresql://user@/"; started if need be."""
    if stated := os.environ.get(SERVER):
        yield stated
        return
    initdb, pg_ctl = _program("initdb"), _program("pg_ctl")
    if initdb is None or pg_ctl is None:
        pytest.skip(f"no PostgreSQL here; install one, or name a server in {SERVER}")
    # The server refuses to run as root.
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    lead = ["runuser", "-u", "postgres", "--"] if root else []
    if root and (
        shutil.which("runuser") is None
        or subprocess.run(["id", "postgres"], capture_output=True).returncode
    ):
        pytest.skip("PostgreSQL does not run as root, and there is no user postgres")
    folder = Path(tempfile.mkdtemp(prefix="fs-pg-"))
    folder.chmod(0o777)
    data = folder / "data"

    def run(*command: str) -> None:
        subprocess.run(
            [*lead, *command], check=True, stdout=subprocess.DEVNULL, cwd=folder, timeout=120
        )

    try:
        run(initdb, "-D", str(data), "-U", "tester", "-A", "trust", "--no-sync", "-E", "UTF8")
        options = f"-k {folder} -c listen_addresses='' -c fsync=off"
        run(pg_ctl, "-D", str(data), "-w", "-l", str(folder / "log"), "-o", options, "start")
        try:
            yield f"postgresql://tester@/postgres?host={folder}"
        finally:
            run(pg_ctl, "-D", str(data), "-m", "immediate", "-w", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture(params=["file", "server"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Where a history may be begun: a file that is not there yet, or an empty database."""
    if request.param == "file":
        yield str(tmp_path / "history.sqlite")
        return
    yield from empty_database(request.getfixturevalue("server"))


def empty_database(server: str) -> Iterator[str]:
    """A database of its own, dropped afterwards."""
    url = sa.make_url(server)
    name = f"t{uuid.uuid4().hex}"
    engine = sa.create_engine(
        url.set(drivername="postgresql+psycopg"), isolation_level="AUTOCOMMIT"
    )
    with engine.connect() as connection:
        connection.execute(sa.text(f"CREATE DATABASE {name}"))
    try:
        yield url.set(database=name).render_as_string(hide_password=False)
    finally:
        with engine.connect() as connection:
            connection.execute(sa.text(f"DROP DATABASE {name} WITH (FORCE)"))
        engine.dispose()


@pytest.fixture
def history(place: str) -> Iterator[History]:
    """An empty history."""
    opened = open_history(place, create=True)
    yield opened
    opened.close()
