"""Both example studies as a person would make them; a second time nothing is made twice."""

from __future__ import annotations

from pathlib import Path

import pytest

from evenhand.book.book import Book
from evenhand.errors import UsageError
from evenhand.examples.invented import invented_truth
from evenhand.screening.model import Standing
from evenhand.steps.demo import demo
from evenhand.writeup.model import Section


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, tuple[Section, ...]]:
    folder = tmp_path_factory.mktemp("demo place")
    return folder, demo(folder, charts=False)


def test_both_studies_stand_with_their_reports(built: tuple[Path, tuple[Section, ...]]) -> None:
    folder, sections = built
    assert [s.anchor for s in sections] == ["invented", "measured"]
    for section in sections:
        page = folder / section.anchor / "out" / "report.html"
        assert f"report: {page}" in section.items and section.heading in page.read_text(encoding="utf-8")
        assert f'try: evenhand judge "{folder / section.anchor}"' in section.items
    assert sections[1].items[0].startswith("96 logs taken in")


def test_the_rule_sets_aside_what_was_spoiled(built: tuple[Path, tuple[Section, ...]]) -> None:
    """Of the runs that the generator neither spoiled nor made unlike the rest when cold, at most 2 in 100 are set aside."""
    folder, _ = built
    with Book.open(folder / "invented") as book:
        runs = {run.id: run.key for run in book.runs()}
        aside = {runs[i] for i, record in book.standings().items() if record.standing is Standing.SET_ASIDE}
    truth = invented_truth()
    good = {key for key in runs.values() if key not in truth.spoiled and (key.title not in truth.warm_up or key.run > 1)}
    assert len(aside & set(truth.spoiled)) >= len(truth.spoiled) // 2
    assert len(aside & good) <= 0.02 * len(good)


def test_again_takes_nothing_twice(built: tuple[Path, tuple[Section, ...]]) -> None:
    folder, first = built
    with Book.open(folder / "invented") as book:
        before = [run.id for run in book.runs()], len(book.decisions())
    again = demo(folder, charts=False)
    assert [s.items[0] for s in again] == [s.items[0] for s in first]
    with Book.open(folder / "invented") as book:
        assert ([run.id for run in book.runs()], len(book.decisions())) == before


def test_a_study_of_somebody_else_is_left_alone(tmp_path: Path) -> None:
    file = tmp_path / "invented" / "study.toml"
    file.parent.mkdir()
    file.write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError) as error:
        demo(tmp_path, charts=False)
    assert error.value.problems[0].slug == "study-exists"
    assert file.read_text(encoding="utf-8") == "mine"
