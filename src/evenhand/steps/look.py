"""Day one: a folder of logs, no study. What is what, which runs are doubtful, what holds, what cannot be told."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePath
from typing import Final

from evenhand.book.book import Book
from evenhand.errors import LogError, Problem, UsageError
from evenhand.frames.model import Reading, Stretch
from evenhand.frames.read import load_bytes
from evenhand.frames.stretch import apply, propose
from evenhand.measures.compute import measure_run
from evenhand.steps.material import material
from evenhand.steps.readings import UNSAID, Choices, read_settled
from evenhand.steps.runs import StudyRun
from evenhand.steps.scenes import recorded_at, scene_name
from evenhand.steps.take import Progress, take
from evenhand.steps.verdicts import Outcome, outcome
from evenhand.study.guess import Guess, factors_of, guess_keys, study_of
from evenhand.study.model import LowDefinition, Pace, RunKey, Study
from evenhand.study.write import study_text
from evenhand.wording import counted, listed, plain
from evenhand.writeup.brief import account
from evenhand.writeup.model import Section, Table

MOST_FILES: Final = 20_000


@dataclass(frozen=True, slots=True)
class Read:
    """One log that was understood. `reading` holds its frames."""

    path: Path
    key: RunKey
    reading: Reading
    sha256: str


@dataclass(frozen=True, slots=True)
class Refused:
    """A log that could not be taken for frames, and why."""

    path: PurePath
    error: LogError


@dataclass(frozen=True, slots=True)
class Looked:
    """What was seen. keys : path -> run, of the logs that were understood. outcome : None where nothing could be compared."""

    folder: Path
    study: Study
    guess: Guess
    keys: Mapping[Path, RunKey]
    choices: Choices
    outcome: Outcome | None
    sections: tuple[Section, ...]


def look(
    folder: Path,
    pattern: str | None = None,
    choices: Choices = UNSAID,
    *,
    baseline: str | None = None,
    low: str = LowDefinition.PERCENTILE.value,
    agree: Callable[[Guess], bool] | None = None,
    progress: Progress | None = None,
) -> Looked:
    """Look at a folder of logs; nothing is written.

    pattern : where a path names what; without it this is guessed, and `agree` is asked where the guess is not certain.
    baseline, low : as a study would state them. Raises UsageError where it cannot be told what is what, LogError where no log can
    be read.
    """
    guess = _guess(folder, pattern, agree)
    read, refused = _read_all(folder, guess.keys, choices, progress)
    if not read:
        raise LogError([problem for log in refused[:3] for problem in log.error.problems])
    study, stretches = _study(read, baseline, low)
    runs = [_run(study, stretches, log) for log in read]
    keys = {log.path: log.key for log in read}
    understood = _understood(guess, read, refused)
    if len(study.setups) < 2:
        only = Section("one-setup", f"Only one setup ({study.setups[0].label}): there is nothing to compare yet")
        return Looked(folder, study, guess, keys, choices, None, (understood, only))
    found = outcome(study, runs)
    sections = (understood, *account(material(found, stretches)), _next(folder))
    return Looked(folder, study, guess, keys, choices, found, sections)


def keep(seen: Looked, folder: Path, progress: Progress | None = None) -> tuple[Section, ...]:
    """Turn what was seen into a study in a new folder and take the logs in. Raises UsageError where there is a study already."""
    if (folder / "study.toml").exists():
        what = "there is a study in this folder already"
        raise UsageError(Problem("study-exists", what, str(folder), "name another folder, or use evenhand take"))
    with Book.create(folder, study_text(seen.study)) as book:
        report = take(book, seen.study, seen.keys, choices=seen.choices, progress=progress)
    said = Section(
        "kept",
        f"{folder} is now a study",
        paragraphs=(
            f"Read {folder / 'study.toml'} and correct labels, factors, margins and the question; the numbers follow.",
            f"Next: evenhand screen {folder}, evenhand judge {folder}, evenhand publish {folder}.",
            f"To take this back, delete the folder {folder}; your logs were only read.",
        ),
    )
    return (*report.sections(), said)


def _guess(folder: Path, pattern: str | None, agree: Callable[[Guess], bool] | None) -> Guess:
    if not folder.is_dir():
        raise UsageError(Problem("no-such-log", "there is no such folder", str(folder), "name the folder that holds your logs"))
    files = sorted(p for p in folder.rglob("*") if p.is_file())[: MOST_FILES + 1]
    if len(files) > MOST_FILES:
        raise UsageError(Problem("too-many-files", f"more than {MOST_FILES} files", str(folder), "name the folder of one study"))
    guess = guess_keys([p.relative_to(folder) for p in files], pattern)
    if not guess.keys:
        raise UsageError(Problem("which-run", guess.account, str(folder), "say where a path names what with --pattern"))
    if pattern is None and not guess.confident and (agree is None or not agree(guess)):
        others = listed([f"--pattern {p!r}" for p in (guess.pattern, *guess.alternatives)], "or")
        what = f"it is not certain what the names mean: {guess.account}"
        raise UsageError(Problem("which-run", what, str(folder), f"say it with {others}, or take the first with --yes"))
    return guess


def _read_all(
    folder: Path, keys: Mapping[PurePath, RunKey], choices: Choices, progress: Progress | None
) -> tuple[list[Read], list[Refused]]:
    read: list[Read] = []
    refused: list[Refused] = []
    for done, (relative, key) in enumerate(keys.items(), start=1):
        path = folder / relative
        try:
            data = load_bytes(path)
            reading = _reading(data, relative.as_posix(), choices)
            read.append(Read(path, key, reading, hashlib.sha256(data).hexdigest()))
        except LogError as error:
            refused.append(Refused(relative, error))
        if progress is not None:
            progress(done, len(keys), relative.name)
    return read, refused


def _reading(data: bytes, name: str, choices: Choices) -> Reading:
    """A log as chosen; where it has no such column, because the folder holds logs of several recorders, as its numbers show."""
    try:
        return read_settled(data, name, choices)[0]
    except LogError as error:
        if choices.column is None or error.problems[0].slug != "log-no-column":
            raise
        return read_settled(data, name)[0]


def _study(read: Sequence[Read], baseline: str | None, low: str) -> tuple[Study, dict[str, Stretch]]:
    """The study that these logs would be, with the pace of each scene as the logs show it."""
    if low not in [d.value for d in LowDefinition]:
        what = f"{low!r} is no definition of a low"
        raise UsageError(Problem("option-unclear", what, "--low", f"choose {listed([d.value for d in LowDefinition], 'or')}"))
    keys = [log.key for log in read]
    study = study_of(keys, factors_of([k.setup for k in keys]))
    names = [s.name for s in study.setups]
    if baseline is not None and baseline not in names:
        what = f"there is no setup {plain(baseline)!r}"
        raise UsageError(Problem("option-unclear", what, "--baseline", f"choose {listed(names, 'or')}"))
    scenes: dict[str, list[Read]] = defaultdict(list)
    for log in read:
        scenes[scene_name(log.key)].append(log)
    stretches = {name: propose(name, None, [log.reading.frames for log in logs]) for name, logs in scenes.items()}
    titles = tuple(
        replace(t, scenes=tuple(replace(s, pace=Pace(stretches[f"{t.name}/{s.name}"].pace)) for s in t.scenes))
        for t in study.titles
    )
    return replace(study, titles=titles, baseline=baseline or study.baseline, low=LowDefinition(low)), stretches


def _run(study: Study, stretches: Mapping[str, Stretch], log: Read) -> StudyRun:
    cut = apply(log.reading.frames, stretches[scene_name(log.key)])
    return StudyRun(
        key=log.key,
        whole=log.reading.frames,
        cut=cut,
        measures=measure_run(cut.counted, study.target_rate),
        sha256=log.sha256,
        source=str(log.path),
        account=log.reading.account,
        position=recorded_at(log.reading),
        sampled=log.reading.sampled,
        bad_rows=len(log.reading.bad_rows),
    )


def _understood(guess: Guess, read: Sequence[Read], refused: Sequence[Refused]) -> Section:
    """What the logs are taken for: the design, each layout once, and what was refused."""
    layouts: dict[tuple[str, str, str], list[Read]] = defaultdict(list)
    for log in read:
        layouts[log.reading.layout.shape, log.reading.column, log.reading.layout.encoding].append(log)
    rows = tuple((str(len(logs)), logs[0].path.name, logs[0].reading.account) for logs in layouts.values())
    tables = [Table(("logs", "for example", "understood as"), rows, (True, False, False), "How the logs were read")]
    if refused:
        by_reason = [(r.path.as_posix(), str(r.error)) for r in refused]
        tables.append(Table(("refused", "why"), tuple(by_reason[:8]), (False, False)))
    items = [f"left out: {path.as_posix()} ({why})" for path, why in list(guess.left_out.items())[:8]]
    rest = len(guess.left_out) - 8
    items += [f"and {counted(rest, 'other file')} left out"] if rest > 0 else []
    heading = f"{counted(len(read), 'log')} understood" + (f", {len(refused)} refused" if refused else "")
    said = (guess.account, f"pattern: {guess.pattern}")
    return Section("understood", heading, paragraphs=said, tables=tuple(tables), items=tuple(items))


def _next(folder: Path) -> Section:
    return Section(
        "next",
        "What next",
        items=(
            "all runs count here, the doubtful ones too; what would change without them stands above",
            f"to keep this as a study, decide about runs and publish a report: evenhand look {folder} --keep my-study",
        ),
    )
