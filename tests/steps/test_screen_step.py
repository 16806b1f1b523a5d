"""Screening a study: what is told, blind and not, and the rule that the study states."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from evenhand.book.book import Book
from evenhand.errors import UsageError
from evenhand.screening.model import Standing
from evenhand.steps.blinding import hidden_setups
from evenhand.steps.screen import Screened, as_json, screen_study
from evenhand.steps.standing import decide, find_run
from evenhand.steps.take import take_logs

CAPPED = "ironvale/lean/v3/r2"


def said(found: Screened) -> str:
    lines = []
    for s in found.sections:
        lines += [s.heading, *s.paragraphs, *s.items, *(cell for table in s.tables for row in table.rows for cell in row)]
    return "\n".join(lines)


def standing(folder: Path, run: str) -> str | None:
    with Book.open(folder) as book:
        found = book.standings().get(find_run(book, run).id)
        return found.standing.value if found else None


def blind_name(folder: Path, setup: str) -> str:
    with Book.open(folder) as book:
        return hidden_setups(book)[setup]


def test_the_doubtful_run_is_told_with_evidence_and_advice(judged: Path) -> None:
    found = screen_study(judged)
    assert [str(k) for k in found.screening.doubtful()] == ["ironvale/mine lean v3 r2"]
    assert found.sections[0].heading == "1 run of 24 is doubtful"
    assert "ironvale/mine lean v3 r2" in said(found)
    [flag] = [f for f in found.screening.flags if f.run in found.screening.doubtful()]
    assert flag.check == "capped" and flag.evidence and flag.advice


def test_screening_alone_decides_nothing(judged: Path) -> None:
    screen_study(judged)
    with Book.open(judged) as book:
        assert not [run for run, record in book.standings().items() if record.standing is not Standing.KEPT]


def test_blind_shows_no_setup(judged: Path) -> None:
    found = screen_study(judged, blind=True)
    text = said(found) + as_json(found)
    assert blind_name(judged, "lean") in text
    for name in ("lean", "plain", "Lean", "Plain"):
        assert name not in text
    assert msgspec.json.decode(as_json(found))["runs"] == []


def test_a_decision_about_a_hidden_run_finds_its_way_back_and_reveals_nothing(judged: Path) -> None:
    hidden = blind_name(judged, "lean")
    told = decide(judged, f"ironvale/{hidden}/v3/r2", "set-aside", "piles up", "Ada")
    assert standing(judged, CAPPED) == "set aside"
    assert told == (
        f"ironvale/mine {hidden} v3 r2 is now set aside, decided by Ada: piles up.",
        f'To take this back: evenhand standing "{judged}" "ironvale/mine/{hidden}/v3/r2" undo',
    )
    assert "lean" not in said(screen_study(judged, blind=True))
    back = decide(judged, f"ironvale/mine {hidden} v3 r2", "undo")
    assert standing(judged, CAPPED) == "kept"
    assert "lean" not in " ".join(back)


def test_a_hidden_run_that_is_not_there_is_told_by_hidden_names(judged: Path) -> None:
    with pytest.raises(UsageError) as error:
        decide(judged, f"ironvale/{blind_name(judged, 'lean')}/v3/r9", "set-aside")
    assert error.value.problems[0].slug == "no-such-run"
    assert "hidden" in error.value.problems[0].do and "lean" not in str(error.value) and "plain" not in str(error.value)


def test_hidden_names_stay_when_a_log_comes(judged: Path, tmp_path: Path, make_log: Callable[..., Path]) -> None:
    """Also when the new log's digest comes before all others."""
    before = [blind_name(judged, setup) for setup in ("lean", "plain")]
    assert sorted(before) == ["hidden 1", "hidden 2"]
    for n in range(8):
        log = make_log(tmp_path / f"{n}.csv", 9000 + n)
        take_logs(judged, [log], address=("ironvale", "tower", "lean", 1, n + 1))
        assert [blind_name(judged, setup) for setup in ("lean", "plain")] == before


@pytest.mark.parametrize("blind", [False, True])
def test_the_rule_sets_aside_once_and_can_be_taken_back(judged: Path, blind: bool) -> None:
    """The study states that capped runs are set aside. What somebody decided otherwise, the rule does not touch again."""
    found = screen_study(judged, apply_rule=True, blind=blind)
    assert [str(key) for key in found.set_aside] == ["ironvale/mine lean v3 r2"]
    assert standing(judged, CAPPED) == "set aside"
    assert "The study's rule set 1 aside" in said(found)
    assert ("lean" in said(found)) is not blind
    assert screen_study(judged, apply_rule=True).set_aside == ()
    decide(judged, CAPPED, "undo")
    assert screen_study(judged, apply_rule=True).set_aside == ()
    assert standing(judged, CAPPED) == "kept"
    assert "What was decided about runs" in said(screen_study(judged))
