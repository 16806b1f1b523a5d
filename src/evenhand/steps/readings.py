"""Reading a log the way the person and the study want it read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from evenhand.book.book import Book
from evenhand.book.derived import frames_digest
from evenhand.book.model import ReadingRecord, RunRecord
from evenhand.errors import BookError, LogError, Problem, UsageError
from evenhand.frames.model import Frames, Reading, Recipe, Role, Unit
from evenhand.frames.read import UnclearLog, read_log, recipe_of
from evenhand.study.model import IntervalMeaning
from evenhand.wording import listed


@dataclass(frozen=True, slots=True)
class Choices:
    """What a person said about logs; None = find out from the log.

    where : (column, value) that rows must have. interval : what the durations are measured between, which no log shows.
    """

    column: str | None = None
    role: Role | None = None
    unit: Unit | None = None
    delimiter: str | None = None
    decimal: str | None = None
    where: tuple[str, str] | None = None
    skip_bad_rows: bool = False
    interval: IntervalMeaning | None = None

    @property
    def reads(self) -> bool:
        """Whether they say how logs of a layout are read."""
        return any(x is not None for x in (self.column, self.role, self.unit, self.delimiter, self.decimal, self.where))

    @property
    def settles(self) -> bool:
        """Whether they say something about logs of a layout that is worth remembering."""
        return self.reads or self.interval is not None


#: Nothing was said: the log itself, or what the study remembers, tells.
UNSAID: Final = Choices()


def choices_of(
    column: str | None = None,
    role: str | None = None,
    unit: str | None = None,
    delimiter: str | None = None,
    decimal: str | None = None,
    where: str | None = None,
    skip_bad_rows: bool = False,
    interval: str | None = None,
) -> Choices:
    """Choices from the text of command-line options. Raises UsageError naming every option that cannot be understood."""
    problems = []
    if role is not None and role not in _ROLES:
        problems.append(_unknown("--role", role, _ROLES))
    if unit is not None and unit not in _UNITS:
        problems.append(_unknown("--unit", unit, _UNITS))
    if interval is not None and interval not in _INTERVALS:
        problems.append(_unknown("--interval", interval, _INTERVALS))
    name, equals, value = (where or "").partition("=")
    if where is not None and not (name and equals):
        do = "write for example --where program=game.exe"
        problems.append(Problem("option-unclear", f"{where!r} is not of the form COLUMN=VALUE", "--where", do))
    if problems:
        raise UsageError(problems)
    return Choices(
        column=column,
        role=None if role is None else Role(role),
        unit=None if unit is None else Unit(unit),
        delimiter=_TABS.get(delimiter, delimiter) if delimiter is not None else None,
        decimal=decimal,
        where=(name, value) if where is not None else None,
        skip_bad_rows=skip_bad_rows,
        interval=None if interval is None else IntervalMeaning(interval),
    )


_INTERVALS = (IntervalMeaning.PRESENT.value, IntervalMeaning.SHOWN.value)
_ROLES = (Role.ELAPSED.value, Role.DURATION.value, Role.RATE.value)
_UNITS = tuple(unit.value for unit in Unit)
_TABS = {"\\t": "\t", "tab": "\t", "blank": " ", "none": ""}


def _unknown(option: str, given: str, allowed: tuple[str, ...]) -> Problem:
    return Problem("option-unclear", f"{given!r} is none of {listed(allowed, 'or')}", option, f"choose {listed(allowed, 'or')}")


def read_settled(
    data: bytes,
    name: str,
    choices: Choices = UNSAID,
    recipes: Mapping[str, Recipe] | None = None,
    seconds: float | None = None,
) -> tuple[Reading, Recipe]:
    """A log as understood, and the recipe that reads it the same way again.

    What the person chose comes first, then what the study remembers about the layout (`recipes`, by shape), then what the log
    itself shows. seconds : length of the scene as the study states it, which settles units that numbers alone leave open.
    Raises LogError; UnclearLog where none of them settles it.
    """
    reading, recipe = _settled(data, name, choices, recipes or {}, seconds)
    return reading, recipe if choices.interval is None else replace(recipe, interval=choices.interval.value)


def _settled(
    data: bytes, name: str, choices: Choices, remembered: Mapping[str, Recipe], seconds: float | None
) -> tuple[Reading, Recipe]:
    if choices.reads:
        return _chosen(data, name, choices)
    skip = choices.skip_bad_rows
    try:
        reading = read_log(data, name=name, seconds_hint=seconds, skip_bad_rows=skip)
    except UnclearLog:
        found = _remembered(data, name, remembered, skip)
        if found is None:
            raise
        return found
    own = recipe_of(reading)
    recipe = remembered.get(own.shape, own)
    if recipe == own:
        return reading, own
    return read_log(data, name=name, recipe=recipe, skip_bad_rows=skip), recipe


def _remembered(data: bytes, name: str, recipes: Mapping[str, Recipe], skip_bad_rows: bool) -> tuple[Reading, Recipe] | None:
    """An unclear log by the recipe that fits its layout; which layout it has may be part of what is unclear."""
    for recipe in recipes.values():
        try:
            return read_log(data, name=name, recipe=recipe, skip_bad_rows=skip_bad_rows), recipe
        except LogError as error:
            if error.problems[0].slug not in ("recipe-misfit", "log-no-table"):
                raise
    return None


def _chosen(data: bytes, name: str, choices: Choices) -> tuple[Reading, Recipe]:
    reading = read_log(
        data,
        name=name,
        column=choices.column,
        role=choices.role,
        unit=choices.unit,
        delimiter=choices.delimiter,
        decimal=choices.decimal,
        where=choices.where,
        skip_bad_rows=choices.skip_bad_rows,
    )
    return reading, recipe_of(reading)


def read_again(data: bytes, name: str, record: ReadingRecord) -> Reading:
    """A log read exactly as it was when it was taken in. Raises LogError."""
    return read_log(data, name=name, recipe=record.recipe, skip_bad_rows=record.skip_bad_rows)


def frames_of(book: Book, run: RunRecord, record: ReadingRecord) -> Frames:
    """The frames of a run: from derived data, or else from the original.

    Raises BookError when the original is gone or damaged, or when this version reads it to other frames than were taken in.
    """
    kept = book.kept_frames(record.frames_sha256)
    if kept is not None:
        return kept
    frames = read_again(book.original(run.sha256), run.source, record).frames
    if frames_digest(frames) != record.frames_sha256:
        what = f"{run.key} was taken in by version {record.version} as {record.frames} frames, and is now read otherwise"
        do = "run `evenhand rebuild` to see which runs differ; `evenhand rebuild --accept` lets the new reading count"
        raise BookError(Problem("reads-otherwise", what, run.source, do))
    book.keep_frames(frames)
    return frames
