"""Beginning a study: valid as it stands, or from a file; never over another."""

from __future__ import annotations

from pathlib import Path

import pytest

from evenhand.book.book import Book
from evenhand.errors import BookError, StudyError, UsageError
from evenhand.steps.judge import judge_study
from evenhand.steps.new import new
from evenhand.steps.screen import screen_study
from evenhand.study.read import read_study
from evenhand.study.write import study_text


def test_the_starter_is_a_study_as_it_stands(tmp_path: Path) -> None:
    said = new(tmp_path / "my study")
    study = read_study(tmp_path / "my study" / "study.toml")
    assert f"{len(study.setups)} setups, {len(study.titles)} titles" in said[0]
    assert f'evenhand take "{tmp_path / "my study"}" LOGS' in said[1]
    with Book.open(tmp_path / "my study") as book:
        assert book.runs() == ()


def test_from_a_file(tmp_path: Path, study: object) -> None:
    start = tmp_path / "other.toml"
    start.write_text(study_text(study), encoding="utf-8")  # type: ignore[arg-type]
    new(tmp_path / "made", start)
    assert read_study(tmp_path / "made" / "study.toml") == study


def test_no_study_is_overwritten(tmp_path: Path) -> None:
    new(tmp_path / "a")
    (tmp_path / "a" / "study.toml").write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError) as error:
        new(tmp_path / "a")
    assert error.value.problems[0].slug == "study-exists"
    assert (tmp_path / "a" / "study.toml").read_text(encoding="utf-8") == "mine"


def test_a_bad_start_makes_nothing(tmp_path: Path) -> None:
    start = tmp_path / "bad.toml"
    start.write_text("question = ", encoding="utf-8")
    with pytest.raises(StudyError) as error:
        new(tmp_path / "made", start)
    assert error.value.problems[0].slug == "study-not-toml"
    with pytest.raises(StudyError) as error:
        new(tmp_path / "made", tmp_path / "nowhere.toml")
    assert error.value.problems[0].slug == "study-unreadable"
    assert not (tmp_path / "made").exists()


def test_an_empty_study_says_what_to_do_next(tmp_path: Path) -> None:
    new(tmp_path / "a")
    for verb in (judge_study, screen_study):
        with pytest.raises(UsageError) as error:
            verb(tmp_path / "a")
        assert str(error.value) == (
            f"{tmp_path / 'a'}: no log of this study has been taken in yet  [nothing-counts]\n"
            f"  -> take logs in: evenhand take {tmp_path / 'a'} LOGS"
        )
    with pytest.raises(BookError) as missing:
        judge_study(tmp_path / "b")
    assert missing.value.problems[0].slug == "no-study"
    assert not (tmp_path / "b").exists()


def test_a_study_in_which_no_run_counts(judged: Path) -> None:
    file = judged / "study.toml"
    text = file.read_text(encoding="utf-8")
    assert "\nruns = 2" in text and "\nwarmup_runs = 0" in text
    file.write_text(text.replace("\nruns = 2", "\nruns = 3").replace("\nwarmup_runs = 0", "\nwarmup_runs = 2"), encoding="utf-8")
    with pytest.raises(UsageError) as error:
        judge_study(judged)
    assert error.value.problems[0].slug == "nothing-counts"
    assert "none of the 24 runs counts" in str(error.value)
