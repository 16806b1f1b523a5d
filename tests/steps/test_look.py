"""A folder of logs as a person has it: what is what, what is doubtful, what holds; and nothing is written."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path, PurePosixPath

import numpy as np
import pytest

from evenhand.book.book import Book
from evenhand.errors import LogError, UsageError
from evenhand.examples.measured import measured_files, unpack
from evenhand.judging.model import Verdict
from evenhand.steps import look as looking
from evenhand.steps.judge import judge_study
from evenhand.steps.look import Looked, keep, look
from evenhand.steps.take import choices_of
from evenhand.study.guess import Guess
from evenhand.study.model import Pace
from evenhand.study.read import read_study

Make = Callable[..., Path]
Verdicts = dict[tuple[str, str, str], Verdict]

SETUPS = {"A": "1core-1thread", "B": "1core-all", "C": "2core-1thread", "D": "2core-all"}
DAYS = {1: "2026-11-20", 2: "2026-11-21", 3: "2026-11-22"}

#: How people lay out the same 72 logs: where the log of (title, setup, visit, run) lies.
LAYOUTS: dict[str, Callable[[str, str, int, int], str]] = {
    "flat names": lambda t, s, v, r: f"{t.title()} Road_{SETUPS[s]}_v{v}_r{r}.csv",
    "a folder a day": lambda t, s, v, r: f"{DAYS[v]}/{t} {SETUPS[s]} run{r}.csv",
    "a folder a run": lambda t, s, v, r: f"{t}/{SETUPS[s]}/visit{v}/run{r}/frames.csv",
    "stamped names": lambda t, s, v, r: f"{t}-{s}-{DAYS[v].replace('-', '')}-{10 + r}{30 + r}05.csv",
}


def said(seen: Looked) -> str:
    """Everything that is shown, as text."""
    found = []
    for section in seen.sections:
        found += [section.heading, *section.paragraphs, *section.items]
        found += [cell for table in section.tables for row in table.rows for cell in (table.caption, *row)]
    return "\n".join(found)


def verdicts(seen: Looked) -> Verdicts:
    assert seen.outcome is not None
    shown = seen.outcome.shown.measures
    return {(key, c.title, c.setup): c.verdict for key, judged in shown.items() for c in judged.comparisons}


def files_below(folder: Path) -> dict[Path, tuple[int, int]]:
    return {p: (p.stat().st_size, p.stat().st_mtime_ns) for p in folder.rglob("*")}


def quiet_logs() -> dict[tuple[str, str, int, int], bytes]:
    files = dict(measured_files("quiet"))
    table = csv.DictReader(io.StringIO(files[PurePosixPath("runs.csv")].decode("utf-8")))
    return {(r["scene"], r["setup"], int(r["visit"]), int(r["run"])): files[PurePosixPath(r["log"])] for r in table}


@pytest.fixture(scope="module")
def quiet(tmp_path_factory: pytest.TempPathFactory) -> Looked:
    folder = tmp_path_factory.mktemp("quiet")
    unpack("quiet", folder)
    return look(folder)


@pytest.fixture(scope="module")
def campaign(tmp_path_factory: pytest.TempPathFactory) -> Looked:
    folder = tmp_path_factory.mktemp("campaign")
    unpack("campaign", folder)
    return look(folder)


def small(
    folder: Path, make_log: Make, setups: tuple[str, ...] = ("plain", "lean"), titles: tuple[str, ...] = ("ironvale",)
) -> Path:
    """Two visits of two runs of each setup; every further setup is a tenth quicker."""
    for i, title in enumerate(titles):
        for j, setup in enumerate(setups):
            for visit in (1, 2):
                for run in (1, 2):
                    path = folder / title / f"{setup}-v{visit}-r{run}.csv"
                    make_log(path, 1000 * i + 100 * j + 10 * visit + run, mean_ms=7.0 * 0.9**j)
    return folder


def test_the_measured_campaign_without_a_word(campaign: Looked) -> None:
    """The campaign's README.md: 96 logs of five formats, four scenes, four setups, three visits of two runs; 21 spoiled logs."""
    assert len(campaign.keys) == 96
    study = campaign.study
    assert [t.name for t in study.titles] == ["hangar", "keep", "quarry", "works"]
    assert [s.name for s in study.setups] == ["A", "B", "C", "D"]
    assert (study.baseline, study.protocol.visits, study.protocol.runs) == ("A", 3, 2)
    assert {s.pace for t in study.titles for s in t.scenes} == {Pace.FRAMES}
    text = said(campaign)
    assert "in spoiled/, runs.csv and scenes.csv (its path does not fit" in text
    assert "No run's setup is proven" in text


def test_other_campaigns_need_no_word_either(quiet: Looked) -> None:
    assert len(quiet.keys) == 72
    assert [t.name for t in quiet.study.titles] == ["mill", "orchard", "yard"]
    order = [s.anchor for s in quiet.sections]
    assert order[:2] == ["understood", "doubtful"] and "over" in order and order[-1] == "next"


def test_looking_writes_nothing(tmp_path: Path, make_log: Make) -> None:
    folder = small(tmp_path / "logs", make_log)
    before = files_below(tmp_path)
    look(folder)
    assert files_below(tmp_path) == before


@pytest.mark.parametrize("layout", LAYOUTS)
def test_the_same_logs_laid_out_otherwise_bring_the_same_verdicts(layout: str, quiet: Looked, tmp_path: Path) -> None:
    place = LAYOUTS[layout]
    for (title, setup, visit, run), data in quiet_logs().items():
        path = tmp_path / place(title, setup, visit, run)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    seen = look(tmp_path, agree=lambda _: True)
    assert (len(seen.keys), seen.study.protocol.visits, seen.study.protocol.runs) == (72, 3, 2)
    assert len(seen.study.titles) == 3
    titles = dict(zip([t.name for t in seen.study.titles], [t.name for t in quiet.study.titles], strict=True))
    setups = {s.name: next(old for old, new in SETUPS.items() if s.name in (old, new)) for s in seen.study.setups}
    assert {(m, titles[t], setups[s]): v for (m, t, s), v in verdicts(seen).items()} == verdicts(quiet)


def test_numbers_in_brackets_are_runs_of_one_visit(quiet: Looked, tmp_path: Path) -> None:
    """Nothing in these names tells visits apart, so no verdict is given."""
    for (title, setup, visit, run), data in quiet_logs().items():
        path = tmp_path / SETUPS[setup] / f"{title.title()} Road ({(visit - 1) * 2 + run}).csv"
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(data)
    seen = look(tmp_path, agree=lambda _: True)
    assert (len(seen.keys), seen.study.protocol.visits, seen.study.protocol.runs) == (72, 1, 6)
    assert set(verdicts(seen).values()) == {Verdict.UNTOLD}
    assert "no verdict" in said(seen)
    assert "a second visit of each setup would" in said(seen)


def test_keeping_gives_the_verdicts_that_looking_gave(tmp_path: Path, make_log: Make) -> None:
    seen = look(small(tmp_path / "logs", make_log, titles=("ironvale", "night-ferry")))
    before = files_below(tmp_path / "logs")
    sections = keep(seen, tmp_path / "my study")
    assert files_below(tmp_path / "logs") == before
    text = "\n".join(line for s in sections for line in (s.heading, *s.paragraphs))
    assert "is now a study" in text and f'evenhand screen "{tmp_path / "my study"}"' in text
    kept = judge_study(tmp_path / "my study").opened.outcome.shown
    assert {(m, c.title, c.setup): c.verdict for m, j in kept.measures.items() for c in j.comparisons} == verdicts(seen)
    assert seen.outcome is not None
    for key, judged in seen.outcome.shown.measures.items():
        np.testing.assert_array_equal(
            [c.estimate for c in kept.measures[key].comparisons], [c.estimate for c in judged.comparisons]
        )
    assert read_study(tmp_path / "my study" / "study.toml").baseline == "lean"
    with pytest.raises(UsageError) as error:
        keep(seen, tmp_path / "my study")
    assert error.value.problems[0].slug == "study-exists"


def test_one_setup_is_nothing_to_compare(tmp_path: Path, make_log: Make) -> None:
    seen = look(small(tmp_path, make_log, setups=("lean",)), pattern="{title}/{setup}-v{visit}-r{run}")
    assert seen.outcome is None
    assert "nothing to compare" in said(seen) and "4 logs understood" in said(seen)


def test_a_folder_without_logs(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    (tmp_path / "notes.md").write_text("nothing yet", encoding="utf-8")
    for folder, slug, what in (
        (tmp_path, "which-run", "frame log by its name"),
        (tmp_path / "empty", "which-run", "empty"),
        (tmp_path / "notes.md", "no-such-log", "a file, not a folder"),
        (tmp_path / "nowhere", "no-such-log", "no such folder"),
    ):
        with pytest.raises(UsageError) as error:
            look(folder)
        assert [p.slug for p in error.value.problems] == [slug]
        assert what in str(error.value)


def test_more_files_than_a_study_has(tmp_path: Path, make_log: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(looking, "MOST_FILES", 3)
    with pytest.raises(UsageError) as error:
        look(small(tmp_path, make_log))
    assert str(error.value) == f"{tmp_path}: more than 3 files  [too-many-files]\n  -> name the folder of one study"


def test_every_log_refused(tmp_path: Path) -> None:
    for setup in ("plain", "lean"):
        for run in (1, 2):
            (tmp_path / f"ironvale-{setup}-v1-r{run}.csv").write_bytes(b"")
    with pytest.raises(LogError) as error:
        look(tmp_path, agree=lambda _: True)
    assert [(p.slug, p.where) for p in error.value.problems] == [("log-empty", "ironvale-lean-v1-r1.csv and 3 logs more")]


def test_refused_logs_are_told_once_a_reason_and_stop_no_other(tmp_path: Path, make_log: Make) -> None:
    folder = small(tmp_path, make_log)
    (folder / "ironvale" / "lean-v1-r1.csv").write_bytes(b"")
    (folder / "ironvale" / "plain-v2-r1.csv").write_bytes(b"")
    seen = look(folder)
    assert "6 logs understood, 2 refused" in said(seen)
    assert said(seen).count("log-empty") == 1
    assert seen.outcome is not None


def test_an_uncertain_guess_is_put_to_the_person(tmp_path: Path, make_log: Make) -> None:
    for n, name in enumerate(("ax-1-2", "by-2-1")):
        make_log(tmp_path / f"{name}.csv", n)
    with pytest.raises(UsageError) as error:
        look(tmp_path)
    [problem] = error.value.problems
    assert problem.slug == "which-run" and "--pattern" in problem.do and "--yes" in problem.do
    asked: list[Guess] = []

    def agree(guess: Guess) -> bool:
        asked.append(guess)
        return False

    with pytest.raises(UsageError):
        look(tmp_path, agree=agree)
    assert len(asked) == 1


def test_options_that_name_what_there_is_not(tmp_path: Path, make_log: Make) -> None:
    folder = small(tmp_path, make_log)
    for options, told in (({"baseline": "leen"}, "choose lean or plain"), ({"low": "mean"}, "percentile, tail-mean")):
        with pytest.raises(UsageError) as error:
            look(folder, **options)
        assert error.value.problems[0].slug == "option-unclear"
        assert told.split(" or ")[0] in str(error.value)
    seen = look(folder, baseline="lean", low="tail-mean")
    assert (seen.study.baseline, seen.study.low.value) == ("lean", "tail-mean")


def lone_milliseconds(folder: Path, spread: float) -> Path:
    """Logs of one column without a header whose numbers might be milliseconds of a frame or frames a second.

    Each lasts 12 s by the clock, as milliseconds; `spread` varies that length from run to run.
    """
    rng = np.random.default_rng(7)
    for setup in ("plain", "lean"):
        for visit in (1, 2):
            for run in (1, 2):
                mean = (20.0 if setup == "plain" else 14.0) * rng.uniform(0.97, 1.03)
                seconds = 12.0 * rng.uniform(1 - spread, 1 + spread)
                ms = mean * rng.gamma(60, 1 / 60, int(seconds * 1000 / mean))
                path = folder / f"saltmarsh-{setup}-v{visit}-r{run}.txt"
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text("".join(f"{x:.2f}\n" for x in ms), encoding="ascii")
    return folder


def test_what_one_log_leaves_open_the_logs_settle_together(tmp_path: Path) -> None:
    """As milliseconds all runs of the scene last 12 s; as frames a second their lengths would differ by a factor."""
    pattern = "{title}-{setup}-v{visit}-r{run}"
    seen = look(lone_milliseconds(tmp_path / "same", 0.0), pattern)
    assert len(seen.keys) == 8
    assert "from column 1 as duration in ms" in said(seen)
    with pytest.raises(LogError) as error:
        look(lone_milliseconds(tmp_path / "apart", 0.3), pattern)
    [problem] = error.value.problems
    assert (problem.slug, problem.where) == ("log-unclear", "saltmarsh-lean-v1-r1.txt and 7 logs more")
    assert "--column 1 --role duration --unit ms" in problem.do and "--column 1 --role rate --unit per_s" in problem.do


def test_a_column_that_only_some_logs_have(tmp_path: Path, make_log: Make) -> None:
    """Two recorders in one folder: --column names a column of one of them, the other is read as its numbers show."""
    folder = small(tmp_path, make_log)
    rng = np.random.default_rng(1)
    for mean, setup in ((7.0, "plain"), (6.3, "lean")):
        for visit in (1, 2):
            for run in (1, 2):
                path = folder / "night-ferry" / f"{setup}-v{visit}-r{run}.csv"
                path.parent.mkdir(exist_ok=True)
                made, shown = (share * mean * rng.gamma(80, 1 / 80, 900) for share in (1.0, 1.04))
                rows = "".join(f"{a:.4f};{b:.4f}\n" for a, b in zip(made, shown, strict=True))
                path.write_text(f"made_ms;shown_ms\n{rows}", encoding="ascii")
    seen = look(folder, choices=choices_of(column="shown_ms"))
    assert len(seen.keys) == 16
    assert "from column shown_ms as duration in ms" in said(seen)
    assert "from column gap_ms as duration in ms" in said(seen)
    undecided = look(folder)
    assert len(undecided.keys) == 8
    assert "8 logs understood, 8 refused" in said(undecided)
    assert "--column shown_ms --role duration --unit ms" in said(undecided)


def test_names_from_outside_do_no_harm(tmp_path: Path, make_log: Make) -> None:
    """Markup, control characters and letters of all kinds in names stay text, or become harmless."""
    folder = small(tmp_path, make_log, setups=("[bold]plain[_bold]", "léän 漢\u202e"), titles=("<b>ironvale", "'; --"))
    seen = look(folder, pattern="{title}/{setup}-v{visit}-r{run}")
    assert len(seen.keys) == 16
    keep(seen, tmp_path / "kept")
    with Book.open(tmp_path / "kept") as book:
        assert len(book.runs()) == 16
    assert len(judge_study(tmp_path / "kept").opened.outcome.shown.titles) == 2


def test_progress_ends_with_what_comes_after_reading(tmp_path: Path, make_log: Make) -> None:
    told: list[tuple[int, int, str]] = []
    look(small(tmp_path, make_log), progress=lambda done, total, what="": told.append((done, total, what)))
    assert [t[:2] for t in told] == [(n, 8) for n in range(1, 9)]
    assert told[-1][2] == "checking and judging"


def test_logs_that_lost_rows_are_named(tmp_path: Path, make_log: Make) -> None:
    """Their own counter shows it."""
    folder = small(tmp_path, make_log)
    for path in folder.rglob("*.csv"):
        own = [line.split(",")[1] for line in path.read_text(encoding="utf-8").splitlines()[1:]]
        numbered = [f"{i},{ms}" for i, ms in enumerate(own)]
        kept = [*numbered[:40], *numbered[42:]] if path.name == "lean-v1-r1.csv" else numbered
        path.write_text("\n".join(["no,gap_ms", *kept]) + "\n", encoding="utf-8", newline="\n")
    text = said(look(folder, pattern="{title}/{setup}-v{visit}-r{run}"))
    assert "1 log lacks rows by its own counter: ironvale/lean-v1-r1.csv (2); frames are lost there" in text
