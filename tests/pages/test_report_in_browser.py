"""The report in a real browser: it fits every width, its text can be read, it asks for nothing, it fails at nothing."""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from tests.writeup import sample

from evenhand.writeup.compose import compose
from evenhand.writeup.page import render

pytestmark = pytest.mark.browser

FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--virtual-time-budget=4000",
    "--dump-dom",
)
WIDTHS = (320, 390, 1440)

#: Measures the page inside a frame of the wanted width and leaves what it found as text.
PROBE = """<!doctype html><meta charset="utf-8">
<iframe id="page" style="width:{width}px;height:900px;border:0" srcdoc="{page}"></iframe>
<pre id="found"></pre><script>
page.onload = () => {{
  const inside = page.contentDocument, root = inside.documentElement;
  const boxes = [...inside.querySelectorAll("p, h1, h2, h3, td, th, figcaption, li")].filter(e => e.getClientRects().length);
  const scrolls = e => {{ for (let p = e; p; p = p.parentElement) {{ const o = page.contentWindow.getComputedStyle(p).overflowX;
    if (o === "auto" || o === "scroll") return true; }} return false; }};
  const said = list => list.map(e => e.textContent.slice(0, 40));
  found.textContent = JSON.stringify({{
    wide: root.scrollWidth,
    out: said(boxes.filter(e => e.getBoundingClientRect().right > root.clientWidth + 1 && !scrolls(e))),
    small: said(boxes.filter(e => parseFloat(page.contentWindow.getComputedStyle(e).fontSize) < 12)),
    asked: page.contentWindow.performance.getEntriesByType("resource").map(r => r.name).filter(n => !n.startsWith("data:")),
    fonts: [...inside.fonts].filter(f => f.status === "loaded").length,
    charts: inside.querySelectorAll("svg[role=img]").length,
  }});
}};
</script>"""


@pytest.fixture(scope="module")
def chromium() -> str:
    found = shutil.which("chromium")
    assert found, "install Debian's chromium for --browser"
    return found


@pytest.fixture(scope="module")
def page() -> str:
    return render(compose(sample.material()))


@pytest.mark.parametrize("width", WIDTHS)
def test_the_report_fits_the_width_and_needs_nothing_else(chromium: str, page: str, width: int, tmp_path: Path) -> None:
    probe = tmp_path / "probe.html"
    probe.write_text(PROBE.format(width=width, page=html.escape(page, quote=True)), encoding="utf-8")
    done = subprocess.run(
        [chromium, *FLAGS, f"--user-data-dir={tmp_path / 'user'}", f"--window-size={max(width, 500)},1000", probe.as_uri()],
        capture_output=True,
        timeout=120,
        check=True,
    )
    text = re.search(r'<pre id="found">(.*?)</pre>', done.stdout.decode("utf-8"), re.DOTALL)
    assert text
    found = json.loads(html.unescape(text.group(1)))
    assert found["wide"] <= width, "the page scrolls sideways"
    assert found["out"] == []
    assert found["small"] == []
    assert found["asked"] == []
    assert found["fonts"] >= 2
    assert found["charts"] > 5
