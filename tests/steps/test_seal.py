"""Sealing: before the first run, by hand or by the first taking in; every later difference is told by every result."""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
from pathlib import Path

import pytest

from evenhand.book.book import Book
from evenhand.book.connection import Connection
from evenhand.book.schema import MIGRATIONS
from evenhand.errors import UsageError
from evenhand.steps import judge as judge_step
from evenhand.steps import screen as screen_step
from evenhand.steps.look import keep, look
from evenhand.steps.publish import publish
from evenhand.steps.rebuild import rebuild
from evenhand.steps.seal import seal_study
from evenhand.steps.standing import decide
from evenhand.steps.take import take_logs


def change(folder: Path, old: str, new: str) -> None:
    """Edit study.toml as a person would."""
    path = folder / "study.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8", newline="\n")


def told(folder: Path) -> str:
    """What judge prints."""
    sections = judge_step.judge_study(folder).sections
    return "\n".join(line for s in sections for line in (s.heading, *s.paragraphs, *s.items))


def test_sealed_by_hand_before_any_run(folder: Path, logs: Path, pattern: str) -> None:
    sealed = seal_study(folder, by="Ada")
    assert sealed.new
    said = " ".join(sealed.lines())
    assert hashlib.sha256(sealed.text.encode()).hexdigest() in said
    assert "by Ada, before any run was in" in said
    take_logs(folder, [logs], pattern=pattern)
    with Book.open(folder) as book:
        (seal,) = book.seals()
    assert (seal.runs, seal.at_hand, seal.by) == (0, 0, "Ada")
    assert "The protocol was sealed before any run was in and is unchanged" in told(folder)
    again = seal_study(folder)
    assert not again.new and "Sealed already" in again.lines()[0]


def test_the_first_taking_in_seals_with_its_logs_at_hand(folder: Path, logs: Path, pattern: str) -> None:
    first = [logs / "ironvale" / "mine" / f"plain-v1-r{run}.csv" for run in (1, 2)]
    take_logs(folder, first, pattern="{setup}-v{visit}-r{run}", address=("ironvale", "mine", None, None, None))
    take_logs(folder, [logs], pattern=pattern)
    with Book.open(folder) as book:
        (seal,) = book.seals()
        kinds = [event.kind for event in book.events()]
    assert (seal.runs, seal.at_hand, seal.by) == (0, 2, "evenhand")
    assert kinds.index("sealed") < kinds.index("stretch")
    assert "sealed with 2 recordings at hand" in told(folder)


def test_a_taking_in_that_takes_nothing_seals_nothing(folder: Path, tmp_path: Path) -> None:
    bad = tmp_path / "ironvale" / "mine" / "plain-v1-r1.csv"
    bad.parent.mkdir(parents=True)
    bad.write_text("no log\n", encoding="utf-8")
    take_logs(folder, [bad], pattern="{title}/{scene}/{setup}-v{visit}-r{run}")
    with Book.open(folder) as book:
        assert book.seals() == () and book.runs() == ()


def test_a_folder_that_is_kept_says_that_the_recordings_were_there_first(logs: Path, tmp_path: Path) -> None:
    sections = keep(look(logs, "{title}/{scene}/{setup}-v{visit}-r{run}"), tmp_path / "kept")
    assert sections[0].heading == "8 runs taken in"
    assert any("8 logs, for example" in item for item in sections[0].items)
    assert "sealed with 8 recordings at hand" in told(tmp_path / "kept")


def test_every_difference_is_told_by_every_result(judged: Path) -> None:
    assert "is unchanged" in told(judged)
    before = publish(judged, charts=False).page.read_text(encoding="utf-8")
    assert "protocol changed since it was sealed" not in before
    change(judged, 'label = "Night Ferry"', 'label = "The Night Ferry"')  # a label is no protocol
    change(judged, "[[setup]]", '[margins]\naverage = "5 %"\n\n[[setup]]')
    margin = "margin of the average frame rate: 3 % when sealed, 5 % now"
    sections = judge_step.judge_study(judged).sections
    assert (sections[0].anchor, sections[0].items[-1]) == ("sealing", margin)  # first, as it must be seen
    page = publish(judged, charts=False).page.read_text(encoding="utf-8").replace("\u00a0", " ")
    assert page.count(margin) == 1
    assert page.count("rotocol changed since it was sealed") == 2  # at the top and at the foot
    document = json.loads(judge_step.as_json(judge_step.judge_study(judged)))
    assert document["protocol"]["changes"] == [{"part": "margins", "key": "average", "sealed": "3 %", "now": "5 %"}]
    screened = screen_step.screen_study(judged)
    assert margin in [item for s in screened.sections for item in s.items]
    assert json.loads(screen_step.as_json(screened))["protocol"] == [margin]
    said = decide(judged, "night-ferry/lean/v1/r1", "set-aside", "update in the background")
    assert said[-1] == f"Protocol changed since it was sealed: {margin}."


def test_an_amendment_needs_a_reason_and_both_stay(judged: Path) -> None:
    change(judged, "visits = 2", "visits = 3")
    with pytest.raises(UsageError) as refused:
        seal_study(judged)
    assert refused.value.problems[0].slug == "option-unclear" and "--why" in str(refused.value)
    amended = seal_study(judged, why="a third visit was possible", by="Ada")
    said = " ".join(amended.lines())
    assert "with 24 runs in, because: a third visit was possible" in said
    assert "visits a setup: 2 when sealed, 3 now (amended)" in said
    text = told(judged)
    assert "Amended on" in text and "1 difference since" in text and "visits a setup: 2 when sealed, 3 now (amended)" in text
    made = publish(judged, charts=False)
    assert len(made.sealed) == 2
    for path in made.sealed:
        assert path.name == f"protocol-{hashlib.sha256(path.read_bytes()).hexdigest()[:8]}.toml"
    with Book.open(judged) as book:
        first, second = book.seals()
    rebuild(judged)
    with Book.open(judged) as book:
        assert book.seals() == (first, second)


def test_exploratory_needs_no_seal_and_says_so_everywhere(folder: Path, logs: Path, pattern: str) -> None:
    change(folder, "[study]\n", "[study]\nexploratory = true\n")
    take_logs(folder, [logs], pattern=pattern)
    with Book.open(folder) as book:
        assert book.seals() == ()
    sections = judge_step.judge_study(folder).sections
    assert sections[0].heading == "This study calls itself exploratory"
    page = publish(folder, charts=False).page.read_text(encoding="utf-8")
    assert page.count('<span class="stamp">exploratory</span>') == 1
    assert "Exploratory study." in page  # under the charts
    assert "This study calls itself exploratory." in decide(folder, "ironvale/mine/lean/v1/r1", "to-redo", "wrong save")
    sealed = seal_study(folder)  # whoever wants a seal all the same gets one, and it says how late
    assert sealed.sealing.seals[0].runs == 8


def test_an_older_book_opens_and_says_that_no_seal_was_there(judged: Path, tmp_path: Path) -> None:
    """A book as the version before seals wrote it: its ledger copied table by table into the first migration's tables."""
    old = tmp_path / "old"
    shutil.copytree(judged, old)
    (old / "book.sqlite").unlink()
    made = Connection(old / "book.sqlite", MIGRATIONS[:1])
    made.close()
    with sqlite3.connect(old / "book.sqlite") as plain:
        plain.execute("ATTACH ? AS new", (str(judged / "book.sqlite"),))
        for table in ("logs", "runs", "readings", "stretches"):
            plain.execute(f"INSERT INTO main.{table} SELECT * FROM new.{table}")
    plain.close()
    assert "The protocol is not sealed" in told(old)
    sealed = seal_study(old)
    assert sealed.sealing.seals[0].runs == 24
    assert "The protocol was sealed after 24 runs were in and is unchanged" in told(old)


def test_seals_are_never_changed(judged: Path) -> None:
    with Book.open(judged) as book:
        for statement in ("UPDATE seals SET text = ''", "DELETE FROM seals"):
            with pytest.raises(sqlite3.IntegrityError, match="append only"):
                book._ledger.rows(statement)
        (seal,) = book.seals()
        assert book.seal("other", "0" * 64, "Bob") == seal  # without a reason the first one stays
