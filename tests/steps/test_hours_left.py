"""The best use of the next hours of a study: before it is recorded, on the way, and when all is done."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from evenhand.errors import UsageError
from evenhand.steps.hours_left import account, as_json, use_of_hours
from evenhand.steps.new import new
from evenhand.study.read import read_study
from evenhand.study.write import study_text


def more_visits(folder: Path, visits: int, looks: tuple[int, ...] = ()) -> None:
    """The study as if its protocol asked for so many visits; a scene that was never recorded is left out."""
    study = read_study(folder / "study.toml")
    titles = tuple(replace(t, scenes=tuple(s for s in t.scenes if s.name != "tower")) for t in study.titles)
    protocol = replace(study.protocol, visits=visits, looks=looks)
    text = study_text(replace(study, titles=titles, protocol=protocol))
    (folder / "study.toml").write_text(text, encoding="utf-8")


def said(found) -> str:  # type: ignore[no-untyped-def]
    return "\n".join(x for s in account(found) for x in (s.heading, *s.paragraphs, *s.items)).replace("\u00a0", " ")


def test_before_anything_is_recorded(tmp_path: Path) -> None:
    new(tmp_path / "study")
    found = use_of_hours(tmp_path / "study", 6)
    assert found.use.rounds == 2 and len(found.use.visits) == 8 and found.now is None
    text = said(found)
    assert "The best use of 6 h: 8 visits" in text and "With 2 visits of each setup" in text
    assert "The next planned look is at 3 visits of each setup" in text and "beyond these hours" in text


def test_on_the_way_looks_are_kept_and_nothing_is_shown_that_would_be_one(judged: Path) -> None:
    more_visits(judged, 5, (4, 5))
    found = use_of_hours(judged, 40)
    assert found.progress.rounds == 3 and found.use.rounds == 5 and found.next_look == 4
    assert found.look is not None and found.look.number is None
    text = said(found)
    assert "The next planned look is at 4 visits of each setup" in text and "within these hours" in text
    assert "at 4 and 5)" in text  # which look this is, by the words of judging
    assert found.now is not None
    if found.now.opened:
        settled = sum(o.chances[1] for o in found.now.opened)
        assert f"about {settled:.0f} of them are expected to be settled" in text


def test_the_document_holds_plan_and_outlook(judged: Path) -> None:
    more_visits(judged, 4)
    found = use_of_hours(judged, 40)
    document = json.loads(as_json(found))
    assert document["form"] == "evenhand-hours-left-1" and document["next_look"] == 4
    assert len(document["use"]["visits"]) == len(found.use.visits) > 0


def test_when_all_is_done_it_says_so(judged: Path) -> None:
    more_visits(judged, 3)
    with pytest.raises(UsageError, match=r"every visit of the plan is done  \[nothing-due\]"):
        use_of_hours(judged, 2)


def test_no_hours_are_refused(judged: Path) -> None:
    with pytest.raises(UsageError, match="--hours-left: 0 hours are no time to record in"):
        use_of_hours(judged, 0)
