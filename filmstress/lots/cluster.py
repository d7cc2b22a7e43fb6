"""A Dask cluster that is already there, as an executor."""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from typing import Any

from filmstress.errors import RefusedInput, UsageError
from filmstress.records.lot import LotSpec
from filmstress.version import VERSION

SECONDS_TO_ANSWER = 5.0


@contextmanager
def cluster(address: str, lot: LotSpec) -> Iterator[tuple[Executor, int]]:
    """Connect to a cluster, for `measure_lot`.

    Parameters
    ----------
    address : str
        Of the scheduler: "tcp://host:8786".
    lot : LotSpec
        To be measured there: its scans must lie where the workers see them.

    Yields
    ------
    executor : concurrent.futures.Executor
    workers : int
        Wafers that it measures at once.

    Raises
    ------
    UsageError
        The package ``distributed`` is not installed.
    RefusedInput
        Nobody answers within five seconds; there are no workers; they have another filmstress, or
        do not see the scans.
    """
    try:
        from distributed import Client
    except ImportError:
        raise UsageError(
            "wants the package 'distributed', which is not installed here",
            where="--cluster",
            hint="install filmstress with the extra 'cluster', or use --jobs",
        ) from None
    connect: Any = Client
    try:
        client = connect(address, timeout=SECONDS_TO_ANSWER, set_as_default=False)
    except Exception as error:  # whatever the address is that of may answer anything
        raise RefusedInput(
            f"no Dask scheduler answers at {address} ({_reason(error)})",
            where="--cluster",
            hint="start one with  dask scheduler  and give the address that it prints",
        ) from None
    with client:
        _check_workers(client, address, lot)
        yield client.get_executor(pure=False), sum(client.nthreads().values())


def _check_workers(client: Any, address: str, lot: LotSpec) -> None:
    if not client.nthreads():
        raise RefusedInput(
            f"the cluster at {address} has no workers",
            where="--cluster",
            hint=f"start some with  dask worker {address}",
        )
    try:
        versions: dict[str, str] = client.run(_version)
    except ImportError:
        versions = {"a worker": "no filmstress"}
    for worker, version in versions.items():
        if version != VERSION:
            raise RefusedInput(
                f"{worker} has {version}, here it is {VERSION}",
                where="--cluster",
                hint="install the same filmstress on every worker",
            )
    path = next(
        (s.scan.path for w in lot.wafers for line in w.lines for s in line.states if s.scan.path),
        None,
    )
    if path is None or not _seen(path):
        return  # a file that is missing here as well is refused with its wafer
    for worker, sees in client.run(_seen, path).items():
        if not sees:
            raise RefusedInput(
                f"{worker} does not see {path}",
                where="--cluster",
                hint="scans are read by the workers: put them where every worker finds them under "
                "the same path",
            )


def _version() -> str:
    return VERSION


def _seen(path: str) -> bool:
    return os.path.isfile(path)  # noqa: PTH113 (the path stays as it is written)


def _reason(error: Exception) -> str:
    first = next(iter(str(error).splitlines()), "") or type(error).__name__
    return first.rstrip(".")
