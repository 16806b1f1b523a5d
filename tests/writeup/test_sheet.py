"""The run sheet holds every visit with all that is to be done in it; nothing in it is markup."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from datetime import date, time
from html.parser import HTMLParser
from pathlib import Path
from typing import Final

import pytest

from evenhand.planning.calendar import dated
from evenhand.planning.cautions import BY_CHANGE, USUAL, cautions
from evenhand.planning.plan import plan
from evenhand.steps.campaign import settings
from evenhand.study.model import Apply, Factor, Level, Protocol, Scene, Study, Title
from evenhand.study.setups import all_setups
from evenhand.writeup.sheet import RunSheet, render, run_sheet


def study(titles: int = 3, **changed) -> Study:  # type: ignore[no-untyped-def]
    fast = Level("6400", "DDR5-6400", expects={"memory_mts": 6400})
    memory = Factor("memory", "memory speed", (Level("5200", "DDR5-5200"), fast), Apply.FIRMWARE)
    limit = Factor("limit", "power limit", (Level("45", "45 W"), Level("65", "65 W")), Apply.MANUAL)
    scene = Scene("harbour", "Harbour <at> night", 60, settings="1440p & high", route="from the gate to the pier")
    made = Study(
        question="Does <b>memory</b> matter?",
        baseline="5200-45",
        setups=all_setups((memory, limit)),
        titles=tuple(Title(f"t{i}", f"Title {i}", (scene,)) for i in range(1, titles + 1)),
        factors=(memory, limit),
        protocol=Protocol(visits=2, runs=3, warmup_runs=1, notes="Room at 21 °C."),
    )
    return replace(made, **changed)


def sheet(asked: Study) -> RunSheet:
    made = plan(asked, 1, 180)
    setups = [v.setup for v in made.visits]
    to_set = {v.order: settings(asked, v.setup, setups[i - 1] if i else None) for i, v in enumerate(made.visits)}
    ways = frozenset(f.apply for f in asked.factors)
    return run_sheet(asked, made, dated(made, date(2026, 12, 1), time(19, 0)), to_set, cautions(ways))


class Words(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def read(page: str) -> tuple[str, list[str]]:
    parser = Words()
    parser.feed(page)
    return re.sub(r"\s+", " ", "".join(parser.words)), parser.tags


def test_every_visit_has_a_page_with_settings_scenes_and_boxes() -> None:
    found = sheet(study())
    text, tags = read(render(found))
    assert tags.count("section") == 1 + 8
    assert len(found.visits) == len(found.order) == 8
    for visit in found.visits:
        assert len(visit.settings) == 2 and len(visit.scenes) == 3 and visit.setup in text
        assert {s.runs for s in visit.scenes} == {("P", "2", "3")}
    for said in ("memory speed: DDR5-6400 was DDR5-5200, in the firmware", "the snapshot shows: memory rate 6400 MT/s"):
        assert said in text
    assert "Room at 21 °C." in text and "from the gate to the pier" in text and "1440p & high, 60 s" in text
    assert "Tuesday 1 December, 19:00 to" in text.replace("\u00a0", " ")


def test_the_cautions_of_every_kind_of_change_are_printed() -> None:
    text, _ = read(render(sheet(study())))
    for caution in (USUAL, BY_CHANGE[Apply.FIRMWARE], BY_CHANGE[Apply.MANUAL]):
        assert all(sentence in text for sentence in caution.sentences)
    assert not any(sentence in text for sentence in BY_CHANGE[Apply.PARTS].sentences)


MUST: Final = (
    "make a PC unstable",
    "lose unsaved work",
    "shorten the life of parts",
    "void a warranty",
    "Note the settings",
    "one thing at",
    "makers' documents",
    "off and unplugged",
    "ground yourself",
)


@pytest.mark.parametrize("words", MUST)
def test_the_usual_cautions_say_what_they_must(words: str) -> None:
    assert words in " ".join(USUAL.sentences)


def test_every_kind_of_change_has_its_cautions() -> None:
    assert set(BY_CHANGE) == set(Apply)
    assert [c.key for c in cautions(frozenset(Apply))] == ["usual", *(a.value for a in Apply)]


def test_names_are_text_and_the_sheet_asks_for_nothing() -> None:
    page = render(sheet(study()))
    assert "Does <b>memory" not in page and "Harbour <at>" not in page and "Harbour <at> night" in read(page)[0]
    assert not re.search(r"(src|href)\s*=|@import|url\((?!data:)", page)


def test_a_setup_that_follows_itself_says_so() -> None:
    two = study()
    two = replace(two, setups=two.setups[:2])
    found = sheet(two)
    assert [v.anew for v in found.visits] == [False, False, True, False]
    assert "The PC is in this setup already" in read(render(found))[0]


@pytest.mark.browser
@pytest.mark.parametrize(("titles", "pages"), [(3, 1 + 8), (12, 1 + 8)])
def test_a_visit_is_printed_on_one_page(titles: int, pages: int, tmp_path: Path) -> None:
    (tmp_path / "sheet.html").write_text(render(sheet(study(titles))), encoding="utf-8")
    chromium = shutil.which("chromium")
    assert chromium, "install Debian's chromium for --browser"
    flags = ("--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking")
    out = tmp_path / "sheet.pdf"
    subprocess.run([chromium, *flags, f"--print-to-pdf={out}", str(tmp_path / "sheet.html")], check=True, capture_output=True)
    assert len(re.findall(rb"/Type\s*/Page\b", out.read_bytes())) == pages
