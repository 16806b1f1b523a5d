"""The measured campaigns replayed through a watched folder: every good run lands in its place, spoiled ones are called so."""

from __future__ import annotations

import csv
import io
import json
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath

import pytest

from evenhand.bench.collect import collect
from evenhand.book.book import Book
from evenhand.book.inbox import Became
from evenhand.errors import UsageError
from evenhand.examples.measured import measured_files
from evenhand.examples.measured_study import measured_study
from evenhand.planning.plan import plan
from evenhand.screening.model import Standing
from evenhand.steps import watch as watching
from evenhand.steps.addresses import Address
from evenhand.steps.landing import Told, waiting
from evenhand.steps.plans import keep_plan
from evenhand.steps.take import take_logs
from evenhand.study.model import RunKey
from evenhand.study.read import read_study
from evenhand.study.write import study_text

#: What each kind of spoiled run is called, of those that can be told from one log beside the scene's others.
CALLED = {
    "capped": "capped",
    "cut_off": "too-short",
    "stopped_once": "lone-stall",
    "wrong_scene": "other-content",
    "background_load": "busy-machine",
}


@dataclass(frozen=True)
class Recorded:
    """One log of a campaign: which run it is said to be, what it is in truth, its bytes, its name as it came."""

    key: RunKey
    truth: str
    log: bytes
    name: PurePosixPath


def recorded(campaign: str, table: str = "runs.csv") -> list[Recorded]:
    """Logs in the order in which they were recorded."""
    files = dict(measured_files(campaign))
    folder = PurePosixPath(table).parent
    rows = list(csv.DictReader(io.StringIO(files[PurePosixPath(table)].decode("utf-8"))))
    if "order" in rows[0]:
        rows.sort(key=lambda row: int(row["order"]))
    found = []
    for row in rows:
        scene, setup = row.get("scene") or row["claimed_scene"], row.get("claimed_setup") or row["setup"]
        key = RunKey(scene, scene, setup, int(row["visit"]), int(row["run"]))
        name = PurePosixPath(row["log"])
        found.append(Recorded(key, row.get("truth", "clean"), files[folder / name], name))
    return found


def visits(logs: Iterable[Recorded]) -> Iterator[tuple[str, int, list[Recorded]]]:
    """The logs visit by visit."""
    groups: dict[tuple[str, int], list[Recorded]] = {}
    for log in logs:
        groups.setdefault((log.key.setup, log.key.visit), []).append(log)
    for (setup, visit), own in groups.items():
        yield setup, visit, own


def write(path: Path, log: bytes, way: int) -> None:
    """As recorders do it, by turns: in pieces; under a temporary name and renamed; at once."""
    path.parent.mkdir(exist_ok=True)
    if way % 3 == 1:
        part = path.with_name(path.name + ".part")
        part.write_bytes(log)
        part.rename(path)
    else:
        step = 8000 if way % 3 == 0 else len(log)
        with path.open("wb") as file:
            for begin in range(0, len(log), step):
                file.write(log[begin : begin + step])
                file.flush()
                time.sleep(0.02)


def begun(folder: Path, campaign: str, visits: int, runs: int) -> Path:
    study = measured_study(campaign)
    Book.create(folder, study_text(replace(study, protocol=replace(study.protocol, visits=visits, runs=runs)))).close()
    return folder


def replay(study: Path, inbox: Path, logs: list[Recorded], name: Callable[[int, Recorded], str]) -> dict[bytes, Told]:
    """Watch while the logs appear; a visit begins when all of the one before have landed. Log -> what became of it."""
    inbox.mkdir(exist_ok=True)
    told: dict[str, Told] = {}
    names: dict[str, bytes] = {}
    failed: list[BaseException] = []

    def record() -> None:
        try:
            with Book.open(study) as book:
                for setup, visit, own in visits(logs):
                    while len(told) < len(names):
                        time.sleep(0.05)
                    book.bench.add_visit(setup, visit, None, proven=False, began="2026-11-24T22:00:00Z")
                    for log in own:
                        path = inbox / name(len(names), log)
                        names[str(path.resolve())] = log.log
                        write(path, log.log, len(names))
        except BaseException as error:
            failed.append(error)

    with Book.open(study) as book:
        book.bench.add_visit(logs[0].key.setup, logs[0].key.visit, None, proven=False, began="2026-11-24T22:00:00Z")
    thread = threading.Thread(target=record)
    thread.start()
    watching.watch(study, inbox, since="all", stop_after=3.0, tell=lambda one: told.update({one.file: one}))
    thread.join()
    assert not failed
    assert set(told) == set(names)
    return {names[path]: one for path, one in told.items()}


def by_own_name(number: int, log: Recorded) -> str:
    return str(log.name)


def by_number(number: int, log: Recorded) -> str:
    return f"recording {number:03}{log.name.suffix}"


@pytest.mark.parametrize("campaign", ["quiet", pytest.param("campaign", marks=pytest.mark.slow)])
def test_every_good_run_lands_in_its_place(tmp_path, campaign):
    """The first visit's logs say what they are by their names; all others only by what they show."""
    logs = recorded(campaign)
    many = len(logs) if campaign == "campaign" else 24
    first = logs[0].key
    study = begun(tmp_path / "study", campaign, 3, 2)

    def name(number: int, log: Recorded) -> str:
        named = (log.key.setup, log.key.visit) == (first.setup, first.visit)
        return by_own_name(number, log) if named else by_number(number, log)

    found = replay(study, tmp_path / "inbox", logs[:many], name)
    missed = [
        one.line
        for log in logs[:many]
        if (one := found[log.log]).run is None or replace(one.run, run=1) != replace(log.key, run=1)
    ]
    assert missed == []
    redo = [log.key for log in logs[:many] if found[log.log].became is not Became.KEPT]
    assert len(redo) <= 0.02 * many
    with Book.open(study) as book:
        assert len(book.runs()) == many


def test_spoiled_runs_are_called_what_they_are(tmp_path):
    """Beside the three good visits of the campaign. A run under another setup is no less a whole run: that is for a proof."""
    study = begun(tmp_path / "study", "campaign", 4, 6)
    good = tmp_path / "good"
    for log in recorded("campaign"):
        path = good / log.name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(log.log)
    take_logs(study, [good], pattern="{title}/{setup}-v{visit}-r{run}")
    logs = recorded("campaign", "spoiled/truth.csv")
    found = replay(study, tmp_path / "inbox", logs, by_own_name)
    right = wrong = 0
    for log in logs:
        one = found[log.log]
        assert one.run is not None
        if log.truth in CALLED:
            right += one.reasons[:1] == (CALLED[log.truth],)
        else:
            wrong += one.became is not Became.KEPT
    assert sum(log.truth in CALLED for log in logs) == 15
    assert right >= 14
    assert wrong == 0
    lines = {log.truth: found[log.log].line for log in logs}
    assert lines["capped"].startswith("capped at ") and ": redo this one" in lines["capped"]
    assert lines["cut_off"].startswith("too short, ")


def test_a_log_of_another_scene_is_said_to_be_so_and_lands_where_it_belongs(tmp_path):
    study = begun(tmp_path / "study", "quiet", 3, 2)
    logs = recorded("quiet")
    replay(study, tmp_path / "inbox", logs[:6], by_own_name)
    other = next(log for log in logs[6:] if log.key.title == "yard")
    with Book.open(study) as book:
        book.bench.add_visit(other.key.setup, other.key.visit, None, proven=False, began="2026-11-24T23:00:00Z")
    path = tmp_path / "orchard.csv"
    path.write_bytes(other.log)
    (one,) = watching.take_next(study, [str(path)])
    assert one.run == replace(other.key, run=1)
    assert one.line.startswith("looks like Yard, not Orchard: kept, 1 of 2")


def test_a_file_that_goes_on_after_it_was_taken_is_taken_whole_and_the_piece_is_to_be_redone(tmp_path):
    study = begun(tmp_path / "study", "quiet", 3, 2)
    log = recorded("quiet")[0]
    stated = Address(log.key.title, log.key.scene, log.key.setup, 1)
    path = tmp_path / "a.csv"
    lines = log.log.splitlines(keepends=True)
    path.write_bytes(b"".join(lines[: len(lines) // 2]))
    (piece,) = watching.take_next(study, [str(path)], stated=stated)
    path.write_bytes(log.log)
    (whole,) = watching.take_next(study, [str(path)], stated=stated)
    assert whole.replaces == piece.run
    assert whole.run == replace(piece.run, run=2)
    with Book.open(study) as book:
        first, second = book.runs()
        decision = book.standings()[first.id]
        assert decision.standing is Standing.REDO
        assert "went on after it was taken in" in decision.why
        assert second.id not in book.standings()
    assert whole.filled == 1


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("orchard-B-v1-r1.csv", "its name says visit 1 of B, and at hand is visit 1 of A"),
        ("B-v1-r1.csv", "its name says visit 1 of B, and at hand is visit 1 of A"),
        ("orchard A visit 2 run 1.csv", "its name says visit 2 of A, and at hand is visit 1 of A"),
    ],
)
def test_a_name_that_says_another_setup_or_visit_is_not_overruled(tmp_path, name, said):
    study = begun(tmp_path / "study", "quiet", 3, 2)
    log = next(log for log in recorded("quiet") if log.key.title == "orchard")
    path = tmp_path / name
    path.write_bytes(log.log)
    (one,) = watching.take_next(study, [str(path)], stated=Address(None, None, "A", 1))
    assert one.became is Became.UNMATCHED
    assert said in one.line


def test_logs_without_names_of_a_first_visit_land_in_the_order_of_the_plan(tmp_path):
    study = begun(tmp_path / "study", "quiet", 3, 2)
    with Book.open(study) as book:
        planned = keep_plan(book, plan(read_study(book.study_file), seed=3)).visits[0]
    own = [log for log in recorded("quiet") if (log.key.setup, log.key.visit) == (planned.setup, 1)]
    logs = [log for scene in planned.scenes for log in own if log.key.title == scene.title]
    stated = Address(None, None, planned.setup, planned.visit)
    for number, log in enumerate(logs):
        path = tmp_path / f"recording {number}.csv"
        path.write_bytes(log.log)
        (one,) = watching.take_next(study, [str(path)], stated=stated)
        assert one.run == log.key


def test_a_run_of_which_a_killed_watch_said_nothing_is_told_as_what_it_is(tmp_path, monkeypatch):
    study = begun(tmp_path / "study", "quiet", 3, 2)
    log = recorded("quiet")[0]
    path = tmp_path / "a.csv"
    path.write_bytes(log.log)
    stated = Address(log.key.title, None, log.key.setup, 1)

    def die(*_: object) -> None:
        raise SystemExit

    with monkeypatch.context() as patch, pytest.raises(SystemExit):
        patch.setattr("evenhand.steps.landing.Desk._note", die)
        list(watching.take_next(study, [str(path)], stated=stated))
    (one,) = watching.take_next(study, [str(path)], stated=stated)
    assert one.line.startswith("kept, 1 of 2 · ")
    (again,) = watching.take_next(study, [str(path)], stated=stated)
    assert again.became is Became.ALREADY
    with Book.open(study) as book:
        assert len(book.runs()) == 1


def test_what_was_there_before_is_left_alone_unless_asked_for_and_a_second_watch_goes_on(tmp_path):
    study, inbox = begun(tmp_path / "study", "quiet", 3, 2), tmp_path / "inbox"
    logs = [log for log in recorded("quiet") if log.key.title == "orchard"]
    stated = Address("orchard", None, logs[0].key.setup, 1)
    inbox.mkdir()

    def watched(since: str | None = None) -> list[Told]:
        told: list[Told] = []
        watching.watch(study, inbox, since=since, stated=stated, stop_after=1.0, tell=told.append)
        return told

    (inbox / "before.csv").write_bytes(logs[0].log)
    assert watched() == []
    (inbox / "meanwhile.csv").write_bytes(logs[1].log)
    assert [Path(one.file).name for one in watched()] == ["meanwhile.csv"]
    assert watched() == []
    assert [Path(one.file).name for one in watched("all")] == ["before.csv"]
    assert sorted(path.name for path in inbox.iterdir()) == ["before.csv", "meanwhile.csv"]
    assert (inbox / "before.csv").read_bytes() == logs[0].log


def test_files_that_are_no_logs_and_logs_of_no_run(tmp_path):
    study, inbox = begun(tmp_path / "study", "quiet", 3, 2), tmp_path / "inbox"
    inbox.mkdir()
    log = recorded("quiet")[0]
    (inbox / "picture.png").write_bytes(b"\x89PNG")
    (inbox / "words.txt").write_text("no numbers here\n", encoding="utf-8")
    (inbox / "what.csv").write_bytes(log.log)
    (inbox / "else.csv").write_bytes(recorded("quiet")[1].log)
    told: dict[str, Told] = {}
    watching.watch(
        study,
        inbox,
        since="all",
        stated=Address(None, None, "A", 1),
        stop_after=1.0,
        tell=lambda t: told.update({Path(t.file).name: t}),
    )
    assert "picture.png" not in told
    assert told["words.txt"].became is Became.REFUSED
    assert told["what.csv"].became is Became.UNMATCHED
    assert "cannot be told" in told["what.csv"].line
    with Book.open(study) as book:
        assert not book.runs()
        assert sorted(Path(one.path).name for one in waiting(book)) == ["else.csv", "what.csv"]
    take_logs(study, [inbox / "what.csv"], address=(log.key.title, None, "A", 1, None))
    with Book.open(study) as book:
        assert [Path(one.path).name for one in waiting(book)] == ["else.csv"]


def test_a_snapshot_in_the_inbox_is_taken_in(tmp_path):
    study = begun(tmp_path / "study", "quiet", 3, 2)
    (study / "inbox").mkdir()
    (study / "inbox" / "snapshot-bench.json").write_text(json.dumps(collect()), encoding="utf-8")
    told: list[Told] = []
    for _ in range(2):
        watching.watch(study, stated=Address(None, None, "A", 1), stop_after=0.5, tell=told.append)
    assert [one.became for one in told] == [Became.SNAPSHOT]
    with Book.open(study) as book:
        assert len(book.bench.snapshots()) == 1


def test_gently_nothing_is_done_while_a_file_grows(tmp_path, monkeypatch):
    """A recorder goes on with the next run at once: the first log waits until it is done too."""
    yielded: list[bool] = []
    monkeypatch.setattr(watching, "be_gentle", lambda: yielded.append(True))
    monkeypatch.setattr(watching, "GENTLE_S", 1.0)
    study, inbox = begun(tmp_path / "study", "quiet", 3, 2), tmp_path / "inbox"
    inbox.mkdir()
    logs = [log for log in recorded("quiet") if log.key.title == "orchard"]
    done: list[float] = []

    def record() -> None:
        (inbox / "first.csv").write_bytes(logs[0].log)
        with (inbox / "second.csv").open("wb") as file:
            for begin in range(0, len(logs[1].log), 3000):
                file.write(logs[1].log[begin : begin + 3000])
                file.flush()
                time.sleep(0.3)
        done.append(time.monotonic())

    thread = threading.Thread(target=record)
    thread.start()
    told: list[float] = []
    stated = Address("orchard", None, logs[0].key.setup, 1)
    watching.watch(
        study, inbox, since="all", stated=stated, gentle=True, stop_after=3.0, tell=lambda one: told.append(time.monotonic())
    )
    thread.join()
    assert yielded == [True]
    assert len(told) == 2
    assert min(told) > done[0]


def test_without_a_visit_nothing_is_watched(tmp_path):
    study = begun(tmp_path / "study", "quiet", 3, 2)
    with pytest.raises(UsageError) as told:
        watching.watch(study, stop_after=0.1)
    assert told.value.problems[0].slug == "visit-unknown"
