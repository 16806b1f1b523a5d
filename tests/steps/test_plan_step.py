"""Planning a study folder: what is kept and what is only tried, by when it is done, what options mean, files that are written."""

from __future__ import annotations

import json
from datetime import date, time
from pathlib import Path

import pytest
from icalendar import Calendar

from evenhand.book.book import Book
from evenhand.errors import PlanError, UsageError
from evenhand.planning.calendar import EVERY_DAY
from evenhand.steps.new import new
from evenhand.steps.plan import Dates, Numbers, account, as_json, dates_of, plan_study, write_calendar
from evenhand.steps.plans import kept_plan
from evenhand.study.model import Scene, Setup, Study, Title
from evenhand.study.write import study_text

START = date(2026, 12, 1)  # a Tuesday
DATES = Dates(START, time(19, 0))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    new(tmp_path / "study")
    return tmp_path / "study"


def plans(folder: Path) -> int:
    with Book.open(folder) as book:
        return len(book.bench.plans())


def text(found) -> str:  # type: ignore[no-untyped-def]
    parts = [(s.heading, *s.paragraphs, *s.items) for s in account(found)]
    return "\n".join(line for part in parts for line in part).replace("\u00a0", " ")


def test_a_plan_is_kept_and_shown_again(folder: Path) -> None:
    first = plan_study(folder, Numbers(hours_a_day=3, seed=7), DATES)
    assert first.kept and first.plan.seed == 7 and plans(folder) == 1
    again = plan_study(folder, Numbers(), DATES)
    assert again.plan == first.plan and plans(folder) == 1
    with Book.open(folder) as book:
        assert kept_plan(book) == first.plan
    other = plan_study(folder, Numbers(seed=8), DATES)
    assert other.plan.seed == 8 and other.plan.day_minutes == 180 and plans(folder) == 2


def test_other_numbers_than_the_protocols_are_only_tried(folder: Path) -> None:
    found = plan_study(folder, Numbers(visits=2, runs=5), DATES)
    assert not found.kept and plans(folder) == 0
    assert found.plan.rounds == 2 and {s.runs for v in found.plan.visits for s in v.scenes} == {5}
    assert found.rehearsal.scheme.visits == 2 and found.rehearsal.scheme.runs == 5
    assert "Not kept" in text(found)


def test_a_plan_in_an_unknown_form_is_made_anew(folder: Path) -> None:
    with Book.open(folder) as book:
        book.bench.add_plan(3, '{"order": "of another version"}')
        assert kept_plan(book) is None
    assert plan_study(folder, Numbers(), DATES).plan.rounds == 3 and plans(folder) == 2


def test_one_setup_has_nothing_to_compare(tmp_path: Path) -> None:
    alone = Study("Which?", "lone", (Setup("lone", "Lone"),), (Title("t", "T", (Scene("t", "T"),)),))
    Book.create(tmp_path / "alone", study_text(alone)).close()
    with pytest.raises(UsageError, match=r"there is one setup, so there is nothing to compare  \[design-setups\]"):
        plan_study(tmp_path / "alone", Numbers(), DATES)


def test_the_hours_at_hand_are_those_of_the_plan(folder: Path) -> None:
    found = plan_study(folder, Numbers(), DATES)
    assert found.rehearsal.hours.planned == pytest.approx(found.plan.minutes / 60)
    assert found.ways is None


def test_by_a_deadline_whole_rounds_count(folder: Path) -> None:
    """Four setups of 38 minutes: two visits fit an hour and a half, a round two evenings. Tue, Fri, Mon, Tue are four."""
    on = frozenset({0, 1, 4})
    found = plan_study(folder, Numbers(hours_a_day=1.5), Dates(START, time(19, 0), on, date(2026, 12, 8)))
    assert found.deadline is not None and (found.deadline.visits, found.deadline.rounds) == (8, 2)
    assert found.deadline.minutes == 4 * 90
    assert found.by_then is not None and found.by_then.scheme.visits == 2
    assert found.by_then.expected[0].over_titles.simultaneous > found.rehearsal.expected[0].over_titles.simultaneous
    assert all(a.hours <= 6 for a in found.rehearsal.hours.alternatives)
    assert "By Tuesday 8 December 2 of 3 rounds are done (8 of 12 visits)" in text(found)
    one = plan_study(folder, Numbers(), Dates(START, time(19, 0), on, date(2026, 12, 4)))
    assert one.deadline is not None and one.deadline.rounds == 1
    assert "Two visits of each setup are the least" in text(one)
    whole = plan_study(folder, Numbers(), Dates(START, time(19, 0), on, date(2026, 12, 24)))
    assert whole.by_then is None and "All of it is done by Thursday 24 December" in text(whole)


def test_what_parts_cost_and_bring_is_told(folder: Path) -> None:
    found = plan_study(folder, Numbers(parts=2), DATES)
    assert found.plan.parts == 2 and found.ways is not None
    whole, split = found.ways
    assert split.visits == 2 * whole.visits == 6 and split.hours == pytest.approx(found.plan.minutes / 60)
    assert split.half_over < 0.9 * whole.half_over and split.visit_df > whole.visit_df
    assert "12 visits more in all" in text(found)
    late = plan_study(folder, Numbers(parts=1, hours_a_day=2), DATES)
    assert late.ways is not None and "A round is longer than a day" in text(late)


def test_a_deadline_needs_hours_a_day(folder: Path) -> None:
    with pytest.raises(UsageError, match="--deadline: a deadline tells nothing without hours a day"):
        plan_study(folder, Numbers(), Dates(START, time(19, 0), EVERY_DAY, date(2026, 12, 8)))


def test_a_day_too_short_for_a_title_says_so(folder: Path) -> None:
    with pytest.raises(PlanError, match="plan-day"):
        plan_study(folder, Numbers(hours_a_day=0.2), DATES)
    assert plans(folder) == 0


def test_dates_are_understood() -> None:
    found = dates_of("2026-12-01", "19:30", "mon, Tuesday fr", "2026-12-24")
    assert found == Dates(START, time(19, 30), frozenset({0, 1, 4}), date(2026, 12, 24))
    assert dates_of(None, "7.05", None, None, START) == Dates(START, time(7, 5), EVERY_DAY, None)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (("soon", "19:00", None, None), "--start: 'soon' is no date"),
        (("2026-12-01", "25:00", None, None), "--begin: '25:00' is no time of day"),
        (("2026-12-01", "19:00", "tu th xy", None), "--on: 'xy' is no day of the week"),
        (("2026-12-01", "19:00", "t", None), "--on: 't' is no day of the week"),
        (("2026-12-01", "19:00", None, "2026-11-30"), "--deadline: 2026-11-30 is before 2026-12-01"),
    ],
)
def test_dates_that_say_nothing_are_refused(typed: tuple[str | None, str, str | None, str | None], said: str) -> None:
    with pytest.raises(UsageError) as error:
        dates_of(*typed)
    assert said in str(error.value) and "->" in str(error.value)


def test_the_calendar_is_written_and_a_folder_in_its_place_is_told(folder: Path, tmp_path: Path) -> None:
    found = plan_study(folder, Numbers(hours_a_day=3), DATES)
    said = write_calendar(found, tmp_path / "new" / "plan.ics")
    events = list(Calendar.from_ical((tmp_path / "new" / "plan.ics").read_bytes()).walk("VEVENT"))
    assert len(events) == 12 and "12 visits" in said[0]
    (tmp_path / "taken").mkdir()
    with pytest.raises(UsageError, match=r"cannot be written .*\[file-unwritable\]"):
        write_calendar(found, tmp_path / "taken")


def test_the_document_holds_plan_and_outlook(folder: Path) -> None:
    found = plan_study(folder, Numbers(hours_a_day=3), DATES)
    document = json.loads(as_json(found))
    assert document["form"] == "evenhand-plan-1" and document["kept"]
    assert [v["visit"]["setup"] for v in document["visits"]] == [v.setup for v in found.plan.visits]
    assert document["visits"][0]["begins"] == "2026-12-01T19:00:00"
    assert document["rehearsal"]["hours"]["planned"] == pytest.approx(found.plan.minutes / 60)
