"""Fixtures for all tests."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

# Times per example depend on the machine; what must be quick has a benchmark of its own.  A run
# that passed must pass again, so examples are drawn anew only where asked for: HYPOTHESIS=explore.
settings.register_profile("steady", deadline=None, print_blob=True, derandomize=True)
settings.register_profile("explore", deadline=None, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS", "steady"))

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "data" / "demo"


@pytest.fixture(autouse=True, scope="session")
def _own_history(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No test writes into the history of whoever runs it, nor does what a module sets up."""
    place = tmp_path_factory.getbasetemp() / "history.sqlite"
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("FILMSTRESS_HISTORY", str(place))
        yield


@pytest.fixture(scope="session")
def demo_pair() -> tuple[str, str]:
    """A scan before and one after deposition from the demonstration data."""
    lot = sorted(DEMO.glob("*/lot.toml"))[0].parent
    pre = sorted(lot.glob("pre/*"))[0]
    post = sorted(lot.glob("post/*"))[0]
    return str(pre), str(post)
