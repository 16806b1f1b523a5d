"""Day one: a folder of logs, no study. What is what, which runs are doubtful, what holds, what cannot be told."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePath
from typing import Final

from evenhand.book.book import Book
from evenhand.book.originals import digest
from evenhand.errors import LogError, Problem, UsageError
from evenhand.frames.model import Reading, Recipe, Stretch
from evenhand.frames.read import UnclearLog, load_bytes
from evenhand.frames.stretch import apply, propose
from evenhand.frames.together import Unsettled, agreed, by_length
from evenhand.measures.compute import measure_run
from evenhand.steps.material import material
from evenhand.steps.readings import UNSAID, Choices, read_settled
from evenhand.steps.runs import LoggedRun
from evenhand.steps.scenes import recorded_at, scene_name
from evenhand.steps.take import Progress, take
from evenhand.steps.verdicts import Outcome, outcome
from evenhand.study.guess import Guess, factors_of, guess_keys, study_of
from evenhand.study.model import LowDefinition, Pace, RunKey, Study
from evenhand.study.write import study_text
from evenhand.wording import counted, listed, plain, quoted
from evenhand.writeup.brief import account
from evenhand.writeup.model import Section, Table

MOST_FILES: Final = 20_000
MOST_SHOWN: Final = 6


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
        alike = list(_by_reason(refused))[:MOST_SHOWN]
        raise LogError([replace(logs[0].error.problems[0], where=_place(logs)) for logs in alike])
    study, stretches = _study(read, baseline, low)
    runs = [_run(study, stretches, log) for log in read]
    keys = {log.path: log.key for log in read}
    understood = _understood(folder, guess, read, refused)
    if len(study.setups) < 2:
        only = Section("one-setup", f"Only one setup ({study.setups[0].label}): there is nothing to compare yet")
        return Looked(folder, study, guess, keys, choices, None, (understood, only))
    found = outcome(study, runs)
    sections = (understood, *account(material(found, stretches)), _next(folder, doubts=bool(found.screening.doubtful())))
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
            f"Next: evenhand screen {quoted(folder)}, then the same with judge and publish.",
            f"To take this back, delete the folder {folder}; your logs were only read.",
        ),
    )
    return (*report.sections(), said)


def _guess(folder: Path, pattern: str | None, agree: Callable[[Guess], bool] | None) -> Guess:
    if folder.is_file():
        do = f"name the folder that it lies in: evenhand look {quoted(folder.parent)}"
        raise UsageError(Problem("no-such-log", "this is a file, not a folder", str(folder), do))
    if not folder.is_dir():
        raise UsageError(Problem("no-such-log", "there is no such folder", str(folder), "name the folder that holds your logs"))
    files = sorted(p for p in folder.rglob("*") if p.is_file())[: MOST_FILES + 1]
    if len(files) > MOST_FILES:
        raise UsageError(Problem("too-many-files", f"more than {MOST_FILES} files", str(folder), "name the folder of one study"))
    if not files:
        raise UsageError(Problem("which-run", "the folder is empty", str(folder), "name the folder that holds your logs"))
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
    """Every log; those that are unclear alone are read once more by what the others of their layout show."""
    read: dict[PurePath, Read] = {}
    refused: dict[PurePath, LogError] = {}
    for done, relative in enumerate(keys, start=1):
        found = _read_one(folder, relative, keys[relative], choices, {})
        if isinstance(found, Read):
            read[relative] = found
        else:
            refused[relative] = found
        if progress is not None:
            progress(done, len(keys), relative.name if done < len(keys) else "checking and judging")
    unclear = {path: error for path, error in refused.items() if isinstance(error, UnclearLog)}
    unsettled = [Unsettled(scene_name(keys[path]), error) for path, error in unclear.items()]
    recipes = {**by_length(unsettled), **agreed((log.reading for log in read.values()), unsettled)}
    for relative in unclear if recipes and not choices.reads else ():
        found = _read_one(folder, relative, keys[relative], choices, recipes)
        if isinstance(found, Read):
            read[relative] = found
            del refused[relative]
    return [read[path] for path in keys if path in read], [Refused(path, error) for path, error in refused.items()]


def _read_one(folder: Path, relative: PurePath, key: RunKey, choices: Choices, recipes: Mapping[str, Recipe]) -> Read | LogError:
    """A log, as chosen or by a recipe; where it has no column of the chosen name, because the folder holds logs of several
    recorders, as its numbers show.
    """
    path, name = folder / relative, relative.as_posix()
    try:
        data = load_bytes(path)
        try:
            reading, _ = read_settled(data, name, choices, recipes)
        except LogError as error:
            if choices.column is None or error.problems[0].slug != "log-no-column":
                raise
            reading, _ = read_settled(data, name)
    except LogError as error:
        return error
    return Read(path, key, reading, digest(data))


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


def _run(study: Study, stretches: Mapping[str, Stretch], log: Read) -> LoggedRun:
    cut = apply(log.reading.frames, stretches[scene_name(log.key)])
    return LoggedRun(
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


def _understood(folder: Path, guess: Guess, read: Sequence[Read], refused: Sequence[Refused]) -> Section:
    """What the logs are taken for: the design, each layout once, what was refused and what was left out, each reason once."""
    layouts: dict[tuple[str, str, str], list[Read]] = defaultdict(list)
    for log in read:
        layouts[log.reading.layout.shape, log.reading.column, log.reading.layout.encoding].append(log)
    rows = [
        (counted(len(logs), "log"), logs[0].path.relative_to(folder).as_posix(), logs[0].reading.account)
        for logs in layouts.values()
    ]
    tables = [Table(("how many", "for example", "understood as"), tuple(rows), (False,) * 3, "How the logs were read")]
    heading = f"{counted(len(read), 'log')} understood" + (f", {len(refused)} refused" if refused else "")
    said = guess.account if guess.pattern in guess.account else f"{guess.account} (pattern {guess.pattern})"
    items = (*_lost(folder, read), *_left_out(guess.left_out))
    return Section("understood", heading, paragraphs=(said,), tables=(*tables, *_refusals(refused)), items=items)


def _lost(folder: Path, read: Sequence[Read]) -> Iterator[str]:
    """Logs that lack rows by their own counter: what was in them nobody can know."""
    short = [log for log in read if log.reading.lost_rows]
    if short:
        named = [f"{log.path.relative_to(folder).as_posix()} ({log.reading.lost_rows})" for log in short[:MOST_SHOWN]]
        rest = [f"{len(short) - MOST_SHOWN} more"] if len(short) > MOST_SHOWN else []
        verb, whose = ("lacks", "its") if len(short) == 1 else ("lack", "their")
        yield f"{counted(len(short), 'log')} {verb} rows by {whose} own counter: {listed([*named, *rest])}; frames are lost there"


def _by_reason(refused: Sequence[Refused]) -> list[list[Refused]]:
    """Refused logs, those of one reason and layout together."""
    reasons: dict[tuple[str, str], list[Refused]] = defaultdict(list)
    for no in refused:
        shape = no.error.layout.shape if isinstance(no.error, UnclearLog) else ""
        reasons[no.error.problems[0].slug, shape].append(no)
    return list(reasons.values())


def _place(alike: Sequence[Refused]) -> str:
    """The first of some logs, and how many there are like it."""
    where, rest = alike[0].error.problems[0].where, len(alike) - 1
    return f"{where} and {counted(rest, 'log')} more" if rest else where


def _refusals(refused: Sequence[Refused]) -> Iterator[Table]:
    """What was refused, each reason once for each layout."""
    reasons = _by_reason(refused)
    told = [(counted(len(logs), "log"), str(logs[0].error)) for logs in reasons[:MOST_SHOWN]]
    rest = sum(map(len, reasons[MOST_SHOWN:]))
    told += [(counted(rest, "log"), "for other reasons")] if rest else []
    if told:
        yield Table(("how many", "refused, for example"), tuple(told), (False, False))


def _left_out(left_out: Mapping[PurePath, str]) -> Iterator[str]:
    """Files that are no logs of the study, each reason once with the places where they lie."""
    by_reason: dict[str, list[PurePath]] = defaultdict(list)
    for path, why in left_out.items():
        by_reason[why].append(path)
    for why, paths in by_reason.items():
        places = Counter(f"{path.parts[0]}/" if len(path.parts) > 1 else path.as_posix() for path in paths)
        shown = [p if not p.endswith("/") else f"{n} in {p}" for p, n in places.most_common(MOST_SHOWN)]
        rest = len(paths) - sum(n for _, n in places.most_common(MOST_SHOWN))
        yield f"left out: {listed([*shown, *([f'{rest} more'] if rest else [])])} ({why})"


def _next(folder: Path, *, doubts: bool) -> Section:
    counting = "all runs count here, the doubtful ones too; what would change without them stands above"
    return Section(
        "next",
        "What next",
        items=(
            *((counting,) if doubts else ()),
            f"to keep this as a study, decide about runs and publish a report: evenhand look {quoted(folder)} --keep my-study",
        ),
    )
