"""A Dask cluster as the place to measure: the same result, and words where it cannot be used."""

from __future__ import annotations

import builtins
import socket
import time
from collections.abc import Iterator
from typing import Any

import pytest

from filmstress.errors import RefusedInput, UsageError
from filmstress.lots import cluster as module
from filmstress.lots.batch import measure_lot
from filmstress.lots.cluster import cluster
from filmstress.lots.manifest import read_lot
from filmstress.records.lot import LotSpec
from filmstress.report.lot import lot_data
from tests.cli._run import process
from tests.lots.writing import write_lot

pytest.importorskip("distributed")
LIMITS = "[specification]\nlower = '150 MPa'\nupper = '250 MPa'\n"


@pytest.fixture(scope="module")
def lot(tmp_path_factory: pytest.TempPathFactory) -> LotSpec:
    stresses = {f"{number:02}": (195 + number) * 1e6 for number in range(6)}
    return read_lot(write_lot(tmp_path_factory.mktemp("lot"), stresses, tail=LIMITS))


@pytest.fixture(scope="module")
def two_workers() -> Iterator[Any]:
    from distributed import LocalCluster

    local = LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, processes=True, silence_logs=50
    )
    with local:
        yield local


@pytest.mark.filterwarnings("default")  # what the cluster's own parts warn of is not ours
def test_a_cluster_gives_the_same_to_the_last_bit(lot: LotSpec, two_workers: Any) -> None:
    with cluster(two_workers.scheduler_address, lot) as (executor, workers):
        assert workers == 2
        found = measure_lot(lot, executor=executor, workers=workers)
    assert lot_data(found, "0") == lot_data(measure_lot(lot), "0")


@pytest.mark.filterwarnings("default")
def test_the_command_says_the_same(lot: LotSpec, two_workers: Any) -> None:
    address = two_workers.scheduler_address
    there = process("lot", lot.path, "--cluster", address, "--json")
    here = process("lot", lot.path, "--jobs", "1", "--json")
    assert (there.code, there.err) == (0, "")
    assert there.out == here.out


@pytest.mark.filterwarnings("default")
def test_workers_with_another_version_are_turned_away(
    lot: LotSpec, two_workers: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "VERSION", "99")
    with (
        pytest.raises(RefusedInput, match="here it is 99"),
        cluster(two_workers.scheduler_address, lot),
    ):
        pass


def test_nobody_at_the_address_is_said_within_seconds(lot: LotSpec) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
    start = time.monotonic()
    ended = process("lot", lot.path, "--cluster", address)
    assert (ended.code, ended.out) == (3, "")
    assert f"no Dask scheduler answers at {address}" in ended.err
    assert time.monotonic() - start < 30.0


@pytest.mark.parametrize("address", ["nonsense", "foo://x:1", ""])
def test_what_is_no_address_is_said(lot: LotSpec, address: str) -> None:
    ended = process("lot", lot.path, "--cluster", address)
    assert (ended.code, ended.out) == (3, "")
    assert "--cluster" in ended.err


def test_without_the_package_it_says_what_to_install(
    lot: LotSpec, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = builtins.__import__

    def without(name: str, *rest: Any, **more: Any) -> Any:
        if name.partition(".")[0] == "distributed":
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(UsageError, match="distributed") as caught, cluster("tcp://x:1", lot):
        pass
    assert "cluster" in caught.value.hint


def test_jobs_and_cluster_exclude_each_other(lot: LotSpec) -> None:
    ended = process("lot", lot.path, "--cluster", "tcp://x:1", "--jobs", "2")
    assert (ended.code, ended.out) == (2, "")
    assert "exclude each other" in ended.err


def test_a_lot_that_the_workers_do_not_see(lot: LotSpec) -> None:
    class Elsewhere:
        def nthreads(self) -> dict[str, int]:
            return {"tcp://a:1": 1}

        def run(self, function: Any, *arguments: Any) -> dict[str, Any]:
            seen = function(*arguments)
            return {"tcp://a:1": False if isinstance(seen, bool) else seen}

    with pytest.raises(RefusedInput, match=r"does not see .*pre-00-0\.csv"):
        module._check_workers(Elsewhere(), "tcp://s:1", lot)
