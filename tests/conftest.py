"""Fixtures for all tests."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

# Times per example depend on the machine; what must be quick has a benchmark of its own.
settings.register_profile("filmstress", deadline=None, print_blob=True)
settings.load_profile("filmstress")

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "data" / "demo"


@pytest.fixture(scope="session")
def demo_pair() -> tuple[str, str]:
    """A scan before and one after deposition from the demonstration data."""
    lot = sorted(DEMO.glob("*/lot.toml"))[0].parent
    pre = sorted(lot.glob("pre/*"))[0]
    post = sorted(lot.glob("post/*"))[0]
    return str(pre), str(post)
