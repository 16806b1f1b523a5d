"""Standings: a decision is a new row, and it can be taken back."""

from __future__ import annotations

import getpass
from pathlib import Path

import pytest

from evenhand.book.book import Book
from evenhand.errors import UsageError
from evenhand.screening.model import Standing
from evenhand.steps.standing import decide, find_run, name_of, who
from evenhand.steps.take import take_logs
from evenhand.study.model import RunKey

RUN = "ironvale/mine/lean/v1/r2"


@pytest.fixture
def full(folder: Path, logs: Path, pattern: str) -> Path:
    take_logs(folder, [logs], pattern=pattern)
    return folder


def standing(folder: Path, run: str = RUN) -> Standing | None:
    with Book.open(folder) as book:
        found = book.standings().get(find_run(book, run).id)
        return found.standing if found else None


def test_decide_and_take_back(full: Path) -> None:
    said = decide(full, RUN, "set-aside", "update in the background", "Ada")
    assert said[0] == "ironvale/mine lean v1 r2 is now set aside, decided by Ada: update in the background."
    assert said[1] == f"To take this back: evenhand standing {full} {RUN} undo"
    assert standing(full) is Standing.SET_ASIDE
    decide(full, RUN, "to-redo", "play it again", by="Ada")
    decide(full, RUN, "undo", by="Ada")
    assert standing(full) is Standing.SET_ASIDE
    with Book.open(full) as book:
        assert [d.standing.value for d in book.decisions()] == ["set aside", "to redo", "set aside"]


def test_the_first_decision_taken_back_means_kept(full: Path) -> None:
    decide(full, RUN, "set-aside", "x")
    decide(full, RUN, "undo")
    assert standing(full) is Standing.KEPT


def test_who_decides_is_the_name_that_is_logged_in(full: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(getpass, "getuser", lambda: "bea")
    decide(full, RUN, "set-aside", "x")
    with Book.open(full) as book:
        assert book.decisions()[-1].by == "bea"

    def unknown() -> str:
        raise KeyError("USERNAME")

    monkeypatch.setattr(getpass, "getuser", unknown)
    assert who() == "somebody"


def test_what_cannot_be_decided_is_told(full: Path) -> None:
    for run, decision, slug, words in (
        (RUN, "delete", "option-unclear", "choose kept, set-aside, to-redo or undo"),
        ("ironvale/mine/lean/v1/r9", "kept", "no-such-run", "did you mean ironvale/mine/lean/v1/r"),
        ("?", "kept", "no-such-run", "write title/scene/setup/vVISIT/rRUN"),
        (RUN, "undo", "nothing-to-undo", "nobody has decided about ironvale/mine lean v1 r2 yet"),
    ):
        with pytest.raises(UsageError) as error:
            decide(full, run, decision)
        assert error.value.problems[0].slug == slug
        assert words in str(error.value)


def test_names_of_runs(full: Path) -> None:
    with Book.open(full) as book:
        key = RunKey("ironvale", "mine", "lean", 1, 2)
        assert name_of(key) == RUN
        assert {find_run(book, name).key for name in (RUN, "ironvale/lean/v1/r2", str(key), f" {RUN} ")} == {key}


def test_a_run_is_left_out_for_a_reason(full: Path) -> None:
    for decision in ("set-aside", "to-redo"):
        with pytest.raises(UsageError) as error:
            decide(full, RUN, decision)
        assert str(error.value) == (
            "--why: a run is left out for a reason, and none was given  [option-unclear]\n"
            '  -> say it, for instance --why "update running in the background"'
        )
    assert "is now kept" in decide(full, RUN, "kept")[0]
