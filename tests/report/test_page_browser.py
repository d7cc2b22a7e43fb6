"""The report in a real browser: narrow, wide, printed.  Skipped where there is no chromium."""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from filmstress.report.page.writing import lot_page, wafer_page
from tests.report._lines import make_line
from tests.report._lots import make_lot, measured, named, refused
from tests.report._results import make_result

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no chromium on this machine to look with")

Browser = Callable[..., subprocess.CompletedProcess[str]]

LONG = "W" * 90
PAGE = lot_page(
    make_lot(
        measured(make_result(make_line(), make_line(azimuth_deg=90.0, seed=2))),
        named(measured(make_result(make_line(dust=((0.01, 3e-6),)))), LONG),
        refused("03", f"/data/{LONG}/{LONG}.csv: no such file"),
        decision="undecided",
        reason=f"wafer {LONG} refused; measure it again",
        recipe=LONG,
        deposition=((LONG, LONG), ("pressure", "0.6 Pa")),
    ),
    "1",
)
PAGES = {"a lot": PAGE, "one wafer": wafer_page(measured(), "1")}

# Asked of the page inside a frame: the page itself holds no script, and allows none.
ASK = """
<!DOCTYPE html><meta charset="utf-8"><body style="margin:0">
<iframe style="border:0;width:%dpx;height:900px" srcdoc="%s"></iframe><pre id="told"></pre>
<script>
addEventListener("load", () => {
  const page = document.querySelector("iframe").contentDocument, root = page.documentElement;
  const small = [];
  for (const one of page.querySelectorAll("body *")) {
    const own = [...one.childNodes].some(n => n.nodeType === 3 && n.data.trim());
    if (!own || one.closest("title, desc")) continue;
    let size = parseFloat(page.defaultView.getComputedStyle(one).fontSize);
    const svg = one.closest("svg");
    if (svg) size *= svg.getScreenCTM().a;
    if (size < 10.9) small.push([one.tagName, size, one.textContent.trim().slice(0, 40)]);
  }
  document.getElementById("told").textContent = JSON.stringify({
    wide: root.scrollWidth, frame: root.clientWidth, small,
    words: page.querySelector("h1").innerText});
});
</script>
"""


@pytest.fixture
def browser(tmp_path: Path) -> Browser:
    def run(*arguments: str) -> subprocess.CompletedProcess[str]:
        assert CHROMIUM is not None
        words = [
            CHROMIUM,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            f"--user-data-dir={tmp_path / 'profile'}",
            *arguments,
        ]
        # Fonts and caches go where the test's own files are.
        home = os.environ | {"HOME": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path / "cache")}
        return subprocess.run(
            words, env=home, capture_output=True, text=True, check=True, timeout=120
        )

    return run


def ask(browser: Browser, folder: Path, page: str, width: int) -> dict[str, Any]:
    asking = folder / "ask.html"
    asking.write_text(ASK % (width, html.escape(page)), encoding="utf-8")
    told = browser("--dump-dom", "--window-size=1400,1000", asking.as_uri()).stdout
    found = re.search(r'<pre id="told">(.*?)</pre>', told, re.S)
    assert found, told[-500:]
    answer: dict[str, Any] = json.loads(html.unescape(found[1]))
    return answer


@pytest.mark.parametrize("page", PAGES.values(), ids=PAGES)
@pytest.mark.parametrize("width", [320, 390, 1000])
def test_nothing_is_cut_off_or_too_small(
    browser: Browser, tmp_path: Path, page: str, width: int
) -> None:
    told = ask(browser, tmp_path, page, width)
    assert told["words"].strip()
    assert told["wide"] <= told["frame"] <= width
    if width >= 390:
        assert told["small"] == []


def pages_of(pdf: Path) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes()))


def printed(browser: Browser, folder: Path, page: str) -> int:
    source, pdf = folder / "page.html", folder / "page.pdf"
    source.write_text(page, encoding="utf-8")
    browser("--no-pdf-header-footer", f"--print-to-pdf={pdf}", source.as_uri())
    return pages_of(pdf)


def test_it_is_printed_whole_whatever_a_reader_has_folded(browser: Browser, tmp_path: Path) -> None:
    whole = printed(browser, tmp_path, PAGE)
    assert 4 <= whole <= 10
    assert printed(browser, tmp_path, PAGE.replace("<details open>", "<details>")) == whole


def test_the_console_stays_silent(browser: Browser, tmp_path: Path) -> None:
    source = tmp_path / "page.html"
    source.write_text(PAGE, encoding="utf-8")
    ended = browser("--enable-logging=stderr", "--dump-dom", source.as_uri())
    assert "CONSOLE" not in ended.stderr
    # What would be seen there, were there anything to see.
    source.write_text(PAGE.replace("</main>", "<script>alert(1)</script></main>"), encoding="utf-8")
    ended = browser("--enable-logging=stderr", "--dump-dom", source.as_uri())
    assert "CONSOLE" in ended.stderr
    assert "Content Security Policy" in ended.stderr
