"""Two example studies, made and published the way a person would: logs, study, take, screen, publish."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from evenhand.book.book import Book
from evenhand.errors import Problem, UsageError
from evenhand.examples.invented import PATTERN as INVENTED
from evenhand.examples.invented import invented_study, write_logs
from evenhand.examples.invented import keys as invented_keys
from evenhand.examples.measured import unpack
from evenhand.examples.measured_study import PATTERN as RECORDED
from evenhand.examples.measured_study import measured_study, recorded_at
from evenhand.steps.publish import Published, publish
from evenhand.steps.screen import screen_study
from evenhand.steps.take import Progress, take
from evenhand.study.model import RunKey, Study
from evenhand.study.write import study_text
from evenhand.wording import counted, quoted
from evenhand.writeup.model import Section

MEASURED: Final = "campaign"


@dataclass(frozen=True, slots=True)
class _Example:
    """One example: its study, where its logs are, and when each was recorded."""

    folder: Path
    study: Study
    keys: dict[Path, RunKey]
    started: dict[Path, str]


def demo(folder: Path, progress: Progress | None = None, *, charts: bool = True) -> tuple[Section, ...]:
    """Build both examples below `folder`, anew where they are there already from an unfinished demo.

    charts : also draw every chart as a file of its own. Raises UsageError where another study of that name is there.
    """
    sections = []
    for made in (_invented(folder), _measured(folder)):
        published, aside = _carry_out(made, progress, charts)
        runs = counted(len(made.keys), "log")
        said = (
            f"{runs} taken in; {counted(aside, 'run')} set aside by the study's rule",
            f"report: {published.page}",
            f"try: evenhand judge {quoted(made.folder)}",
        )
        sections.append(Section(made.folder.name, made.study.question, items=said))
    return tuple(sections)


def _invented(folder: Path) -> _Example:
    logs = folder / "invented-logs"
    write_logs(logs)
    by_stem = {path.relative_to(logs).with_suffix("").as_posix(): path for path in sorted(logs.rglob("*")) if path.is_file()}
    keys = {by_stem[INVENTED.format(title=k.title, setup=k.setup, visit=k.visit, run=k.run)]: k for k in invented_keys()}
    return _Example(folder / "invented", invented_study(), keys, {})


def _measured(folder: Path) -> _Example:
    logs = folder / "measured-logs"
    unpack(MEASURED, logs)
    began = recorded_at(MEASURED)
    found = {k: next(logs.glob(f"{RECORDED.format(scene=k.scene, setup=k.setup, visit=k.visit, run=k.run)}.*")) for k in began}
    keys, started = {path: key for key, path in found.items()}, {found[key]: moment for key, moment in began.items()}
    return _Example(folder / "measured", measured_study(MEASURED), keys, started)


def _carry_out(made: _Example, progress: Progress | None, charts: bool) -> tuple[Published, int]:
    """Take in, screen by the study's rule, publish; returns what was published and how many runs were set aside."""
    text = study_text(made.study)
    file = made.folder / "study.toml"
    if file.exists() and file.read_text(encoding="utf-8") != text:
        what = "there is another study in this folder"
        raise UsageError(Problem("study-exists", what, str(made.folder), "name another folder for the demo"))
    with Book.open(made.folder) if file.exists() else Book.create(made.folder, text) as book:
        take(book, made.study, made.keys, started=made.started, progress=progress)
    screen_study(made.folder, apply_rule=True)
    published = publish(made.folder, charts=charts, progress=progress)
    return published, published.set_aside
