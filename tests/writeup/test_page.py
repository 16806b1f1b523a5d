"""The page: whole, alone, deaf to markup; small pages are compared with kept ones."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from tests.writeup import sample

from evenhand.judging.model import Disagreement, Verdict
from evenhand.study.model import Study
from evenhand.writeup.compose import compose
from evenhand.writeup.material import Material
from evenhand.writeup.model import Report
from evenhand.writeup.page import render

KEPT = Path(__file__).parent / "kept"
VOID = {"meta", "link", "br", "hr", "img", "input"}
HOSTILE = "<script>alert(1)</script><img src=x onerror=alert(2)> \"'><b>{{ 7*7 }}{% raw %}</style></svg>"


class Reader(HTMLParser):
    """Checks that tags close in order; gathers tags, attributes and the text a person sees."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.attributes: list[tuple[str, str]] = []
        self.ids: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes += [(name, value or "") for name, value in attrs]
        self.ids += [value or "" for name, value in attrs if name == "id"]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes += [(name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag, f"</{tag}> closes another"

    def handle_data(self, data: str) -> None:
        if "style" not in self.open and "svg" not in self.open and data.strip():
            self.text.append(" ".join(data.split()))


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.close()
    assert reader.open == []
    return reader


@pytest.fixture(scope="module")
def material() -> Material:
    return sample.material(sample.study(sample.TITLES[:3]))


@pytest.fixture(scope="module")
def page(material: Material) -> str:
    return render(compose(material))


def test_page_is_well_formed(page: str) -> None:
    reader = read(page)
    assert page.startswith("<!DOCTYPE html>")
    assert len(reader.ids) == len(set(reader.ids)), "an id stands twice"
    targets = {value[1:] for name, value in reader.attributes if name == "href"}
    assert targets <= set(reader.ids), "a link leads nowhere"


def test_page_needs_nothing_else(page: str) -> None:
    """No address but names of namespaces, no script, no handler: it reads the same with the network and JavaScript off."""
    reader = read(page)
    assert set(re.findall(r"https?://[^\"' )<]+", page)) <= {"http://www.w3.org/2000/svg"}
    assert reader.tags.isdisjoint({"script", "iframe", "object", "embed", "link", "img", "form", "base"})
    assert not [name for name, _ in reader.attributes if name.startswith("on")]
    assert not [name for name, _ in reader.attributes if name in ("src", "srcset", "action", "formaction", "xlink:href")]
    assert all(u.startswith("data:font/woff2;base64,") for u in re.findall(r"url\(([^)]*)\)", page))


def test_page_holds_day_night_print_and_phone(page: str) -> None:
    for rule in ("prefers-color-scheme:dark", "@media print", "max-width:700px"):
        assert rule in page
    assert page.count('class="chart slim"') == page.count('class="chart roomy"') > 6


def test_every_chart_has_words_for_those_who_do_not_see_it(page: str) -> None:
    charts = re.findall(r'<svg xmlns[^>]*role="img" aria-label="([^"]*)"', page)
    assert len(charts) == page.count("<svg xmlns")
    assert all(len(c) > 40 for c in charts)
    assert page.count("<figure>") == page.count("<figcaption>")


@pytest.mark.parametrize("where", ["question", "title", "setup", "factor", "why", "bench", "event", "sentence", "way"])
def test_hostile_text_is_text(where: str) -> None:
    of = sample.study(sample.TITLES[:2])
    if where == "question":
        of = replace(of, question=HOSTILE)
    if where == "title":
        of = replace(of, titles=tuple(replace(t, label=HOSTILE) for t in of.titles))
    if where == "setup":
        of = replace(of, setups=tuple(replace(s, label=HOSTILE) for s in of.setups))
    if where == "factor":
        of = replace(of, factors=tuple(replace(f, label=HOSTILE) for f in of.factors))
    page = render(compose(_with(sample.material(of), where)))
    reader = read(page)
    assert reader.tags.isdisjoint({"script", "img", "b"})
    assert not [name for name, _ in reader.attributes if name.startswith("on")]
    assert "{{ 7*7 }}" in page, "not taken for a template"
    assert "&lt;script&gt;" in page


def _with(material: Material, where: str) -> Material:
    """The material with hostile text in one place."""
    if where == "why":
        return replace(material, runs=tuple(replace(r, by=HOSTILE, why=HOSTILE) for r in material.runs))
    if where == "bench":
        return replace(material, bench={HOSTILE: HOSTILE})
    if where == "event":
        return replace(material, events=((HOSTILE, HOSTILE),))
    if where == "sentence":
        runs = tuple(replace(r, flags=tuple(replace(f, sentence=HOSTILE) for f in r.flags)) for r in material.runs)
        return replace(material, runs=runs)
    if where == "way":
        other = Disagreement(HOSTILE, "average", None, "fast-45", "fast-65", Verdict.LEVEL, Verdict.OPEN)
        return replace(material, disagreements=(other,))
    return material


def kept(name: str, found: str) -> None:
    """Compare with the kept page. EVENHAND_KEEP=1 writes it anew; look at the difference before you keep it."""
    file = KEPT / name
    if os.environ.get("EVENHAND_KEEP") == "1":
        file.write_text(found, encoding="utf-8", newline="\n")
    assert found == file.read_text(encoding="utf-8")


def words(report: Report) -> str:
    return "\n".join(read(render(report)).text).replace("\u00a0", " ") + "\n"


def small(**changes: object) -> Material:
    """Two titles, no pictures of frames."""
    plain = sample.material(sample.study(sample.TITLES[1:3]), pictures=False)
    return replace(plain, **changes)  # type: ignore[arg-type]


def test_words_of_a_page_are_the_kept_ones() -> None:
    kept("two-titles.txt", words(compose(small())))


def test_words_of_a_one_visit_study_are_the_kept_ones() -> None:
    once = sample.material(sample.study(sample.TITLES[1:3]), one_visit=True, pictures=False)
    kept("one-visit.txt", words(compose(replace(once, runs=(), put_back=None))))


def test_proven_setups_are_not_called_unproven() -> None:
    proven = compose(small(runs=tuple(replace(r, proven=True) for r in small().runs)))
    assert "setups unproven" not in proven.marks
    assert any(s.heading == "A snapshot confirmed the setup of every run" for s in proven.sections)
    assert "setups unproven" in compose(small()).marks


def test_headings_are_sentences_of_the_situation() -> None:
    headings = {s.anchor: s.heading for s in compose(small()).sections}
    assert headings["doubtful-runs"] == "8 of 64 runs are in doubt or dropped: 4 do not count and 4 count all the same"
    assert headings["bench"] == "Setups unproven: labels taken on trust"
    assert headings["runs"] == "60 of 64 runs count"
    assert headings["title-ironvale"].startswith("Ironvale: ")


def test_a_study_of_one_title_has_no_section_over_titles() -> None:
    of = sample.study(sample.TITLES[:1])
    report = compose(sample.material(of, pictures=False))
    assert "over-titles" not in {s.anchor for s in report.sections}
    assert "in Harbour Lights " in report.answer[0]
    assert report.answer[1].startswith("In the average frame rate, in Harbour Lights, ")
    assert report.answer[2] == "One title says nothing about others."
    read(render(report))


def test_a_title_costs_little(material: Material, page: str) -> None:
    """Forty titles of four setups stay under 5 MB: fonts and frame of the page, and what one title adds."""
    fewer = render(compose(sample.material(sample.study(sample.TITLES[:2]))))
    each = len(page) - len(fewer)
    assert len(page) + 37 * each < 5_000_000


@pytest.mark.slow
def test_forty_titles_stay_small() -> None:
    of = forty()
    page = render(compose(sample.material(of)))
    assert len(page.encode("utf-8")) < 5_000_000
    read(page)


def forty() -> Study:
    first = ("Harbour", "Iron", "Moss", "Night", "Paper", "Quiet", "Salt", "Tin")
    return sample.study([f"{a} {b}" for a in first for b in ("Lights", "Vale", "Ember", "Ferry", "Armada")])


def test_a_number_is_never_parted_from_its_per_cent() -> None:
    told = sample.material()
    made = replace(told, study=replace(told.study, question="Is 3 % enough, or 12 %?"))
    page = render(compose(made))
    assert "Is 3\u00a0% enough, or 12\u00a0%?" in page
    assert not re.search(r"\d %", page)
