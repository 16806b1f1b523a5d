"""Documentation: methods pages have their four headings, links lead somewhere, generated pages are up to date, and nothing
names the machine it was written on.
"""

from __future__ import annotations

import re
from pathlib import Path

import house
import make_docs
import pytest

DOCS = house.ROOT / "docs"
PAGES = [*sorted(DOCS.rglob("*.md")), *sorted(house.ROOT.glob("*.md"))]
METHODS = [page for page in sorted((DOCS / "methods").glob("*.md")) if page.stem != "README"]
LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
TEXT = {".py", ".md", ".toml", ".lock", ".txt", ".html", ".j2", ".css", ".js", ".json", ".sh", ".yml", ".cfg", ""}
TOPS = ("src", "tests", "docs", "tools", "benchmarks", ".ci")


def name(path: Path) -> str:
    return path.relative_to(house.ROOT).as_posix()


def committed_text() -> list[Path]:
    """Text files that belong to the project."""
    inside = [p for top in TOPS if (house.ROOT / top).exists() for p in (house.ROOT / top).rglob("*")]
    beside = [p for p in house.ROOT.iterdir() if p.suffix]
    return [p for p in (*inside, *beside) if p.is_file() and p.suffix in TEXT and "__pycache__" not in p.parts]


def without_code(text: str) -> str:
    return re.sub(r"```.*?```|`[^`\n]*`", "", text, flags=re.DOTALL)


def anchors(page: Path) -> set[str]:
    """Anchors of a page's headings, as the common renderers of Markdown make them."""
    heads = re.findall(r"^#+ +(.+)$", re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}


@pytest.mark.parametrize("page", METHODS, ids=name)
def test_methods_page_gives_formula_source_limits_and_test(page: Path) -> None:
    heads = set(re.findall(r"^## (\w+)", page.read_text(encoding="utf-8"), re.MULTILINE))
    assert {"Formula", "Source", "Limits", "Test"} <= heads, heads


def test_there_are_methods_pages() -> None:
    assert len(METHODS) >= 10


@pytest.mark.parametrize("page", PAGES, ids=name)
def test_links_lead_somewhere(page: Path) -> None:
    lost = []
    for target in LINK.findall(without_code(page.read_text(encoding="utf-8"))):
        if "://" in target or target.startswith("mailto:"):
            continue
        path, _, anchor = target.partition("#")
        other = (page.parent / path).resolve() if path else page
        if not other.exists() or (anchor and other.suffix == ".md" and anchor not in anchors(other)):
            lost.append(target)
    assert not lost


@pytest.mark.parametrize("page", METHODS, ids=name)
def test_tests_and_modules_that_a_methods_page_names_exist(page: Path) -> None:
    named = re.findall(r"`((?:tests|src|benchmarks|tools)/[\w/.\-]+)`", page.read_text(encoding="utf-8"))
    assert not [path for path in named if not (house.ROOT / path).exists()]


def found_in_text(words: tuple[str, ...]) -> list[str]:
    """Where the project's text files hold one of `words`, as "file: word"."""
    texts = {name(file): file.read_text(encoding="utf-8", errors="replace") for file in committed_text()}
    return [f"{file}: {word}" for file, text in texts.items() for word in words if word in text]


def test_no_path_of_a_machine_and_no_registry_is_named() -> None:
    """Written in parts, so that this file does not name them itself."""
    places = ("/" + "work/", "/" + "root/", "/" + "home/")
    hosts = ("pypi" + ".org", "python" + "hosted", "index" + "-url", "conda" + ".")
    assert not found_in_text(places + hosts)


def test_no_unfinished_work_is_marked() -> None:
    marks = ("TO" + "DO", "FIX" + "ME", "X" + "XX", "NotImplemented" + "Error", "pragma: no " + "cover")
    left_out = ("mark." + "skip", "pytest." + "skip(", "x" + "fail")
    assert not found_in_text(marks + left_out)


def test_generated_pages_are_up_to_date() -> None:
    assert make_docs.stale() == [], "run: python dev.py docs"


EXAMPLES = [
    pytest.param(code, id=f"{name(page)}-{i}")
    for page in PAGES
    for i, code in enumerate(re.findall(r"^```python\n(.*?)^```", page.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE))
]


@pytest.mark.parametrize("code", EXAMPLES)
def test_example_runs(code: str) -> None:
    exec(compile(code, "example", "exec"), {"__name__": "example"})
