"""Which planned run a log is: by its name, by the course of its frames, by the order of the plan; else nobody guesses."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path, PurePath

from evenhand.book.book import Book
from evenhand.errors import Problem, UsageError
from evenhand.frames.model import Frames
from evenhand.planning.expected import expected
from evenhand.planning.model import Plan
from evenhand.screening.which_scene import Reference, likeness
from evenhand.steps.addresses import Address, in_study, outside
from evenhand.steps.by_names import keys_by_names
from evenhand.study.guess import guess_keys
from evenhand.study.model import RunKey, Study
from evenhand.wording import listed

Place = tuple[str, str]  # title, scene


@dataclass(frozen=True, slots=True)
class Visit:
    """The visit at hand. began : ISO 8601, None where only options say that it is at hand."""

    setup: str
    number: int
    began: str | None = None


@dataclass(frozen=True, slots=True)
class Matched:
    """What a log is. key : None where it is not known which run it is; `why` then says why not.

    not_this : the scene that its name or the plan said, where the log clearly shows another.
    """

    key: RunKey | None
    why: str = ""
    not_this: Place | None = None


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is to be recorded at this moment. stated : what the person said of all logs. ordered : a plan says the order."""

    study: Study
    visit: Visit
    missing: tuple[RunKey, ...]
    ordered: bool
    stated: Address = field(default_factory=Address)
    pattern: str | None = None

    @property
    def places(self) -> tuple[Place, ...]:
        """Scenes that miss a run, in order."""
        return tuple(dict.fromkeys((key.title, key.scene) for key in self.missing))

    def key(self, place: Place) -> RunKey:
        """The next run of a scene, missing or one more."""
        own = [key for key in self.missing if (key.title, key.scene) == place]
        return own[0] if own else RunKey(*place, self.visit.setup, self.visit.number, 1)


def wanted(
    study: Study, plan: Plan | None, fills: Mapping[RunKey, bool], visit: Visit, stated: Address, pattern: str | None = None
) -> Wanted:
    """What the visit at hand still misses. fills : runs on record -> whether they fill their places. Raises UsageError for a
    scene that the study does not have.
    """
    if stated.title is not None:
        key = in_study(study, RunKey(stated.title, stated.scene or stated.title, visit.setup, visit.number, 1))
        problems = outside(study, key, "options")
        if problems:
            raise UsageError(problems)
        stated = Address(key.title, key.scene, visit.setup, visit.number)
    missing = expected(study, plan, fills, (visit.setup, visit.number))
    return Wanted(study, visit, missing, plan is not None, stated, pattern)


def visit_at_hand(book: Book, study: Study, stated: Address, moment: float | None = None) -> Visit:
    """The visit that the options name; else the one that had last begun at a moment (seconds since 1970; None = now).

    Raises UsageError where neither says.
    """
    rows = [row for row in book.bench.visits() if row.setup in {s.name for s in study.setups}]
    if stated.setup is not None:
        if stated.setup not in {s.name for s in study.setups}:
            key = RunKey(study.titles[0].name, study.titles[0].scenes[0].name, stated.setup, 1, 1)
            raise UsageError(outside(study, key, "--setup"))
        numbers = [row.visit for row in rows if row.setup == stated.setup]
        number = stated.visit or (numbers[-1] if numbers else None)
        if number is not None:
            began = next((r.began for r in reversed(rows) if (r.setup, r.visit) == (stated.setup, number)), None)
            return Visit(stated.setup, number, began)
    begun = [row for row in rows if moment is None or _seconds(row.began) <= moment]
    if not begun or stated.setup is not None:
        what = "which setup the PC is in, and which visit this is, is not known"
        do = "begin a visit with evenhand inspect STUDY, or say --setup and --visit"
        raise UsageError(Problem("visit-unknown", what, str(book.folder), do))
    last = max(begun, key=lambda row: (_seconds(row.began), row.id))
    return Visit(last.setup, last.visit, last.began)


def match(path: PurePath, frames: Frames, want: Wanted, references: Mapping[Place, Reference]) -> Matched:
    """Which run a log is. path : relative to the watched folder. references : usual courses of the scenes that have runs."""
    named, conflict = _named(path, want)
    if conflict:
        return Matched(None, conflict)
    hoped = named or _next(want)
    found = likeness(frames, hoped, references)
    if found.clear is not None and found.clear != hoped:
        return _other(found.clear, hoped if named or want.ordered else None, want)
    if named:
        return Matched(want.key(named))
    if not want.missing:
        return Matched(None, f"the visit has all its runs: visit {want.visit.number} of {_setup(want)}")
    if hoped and (found.clear == hoped or (not found.unlike and (want.ordered or len(want.places) == 1))):
        return Matched(want.key(hoped))
    return Matched(None, _untold(want, found.unlike, hoped))


def _other(shown: Place, hoped: Place | None, want: Wanted) -> Matched:
    """The log clearly shows another scene than was hoped for."""
    if shown in want.places:
        return Matched(want.key(shown), not_this=hoped)
    said = f"looks like {label(want.study, shown)}"
    if hoped:
        said += f", not {label(want.study, hoped)}"
    return Matched(None, f"{said}; {label(want.study, shown)} has all its runs of this visit", hoped)


def _next(want: Wanted) -> Place | None:
    """The scene that comes next: the planned one; without a plan the study's order is as good as any."""
    return want.places[0] if want.places else None


def _untold(want: Wanted, unlike: bool, hoped: Place | None) -> str:
    if unlike and hoped and (want.ordered or len(want.places) == 1):
        return f"not like {label(want.study, hoped)}, nor clearly like another scene"
    some = listed([label(want.study, place) for place in want.places[:3]], "or")
    more = " or another" if len(want.places) > 3 else ""
    return f"which scene it shows cannot be told: {some}{more}"


def _named(path: PurePath, want: Wanted) -> tuple[Place | None, str]:
    """The scene that options, pattern or name say, and what in the name contradicts the visit at hand."""
    stated = want.stated
    if stated.title is not None and stated.scene is not None:
        return (stated.title, stated.scene), ""
    whole = _by_pattern(path, want) if want.pattern else _by_names(path, want.study, Address())
    title = want.study.titles[0]
    says = whole or _by_names(path, want.study, Address(title.name, title.scenes[0].name))  # or at least setup, visit and run
    if says and (says.setup, says.visit) != (want.visit.setup, want.visit.number):
        said = f"its name says visit {says.visit} of {says.setup}"
        return None, f"{said}, and at hand is visit {want.visit.number} of {want.visit.setup}"
    if whole:
        return (whole.title, whole.scene), ""
    if len(want.study.titles) == 1 and len(want.study.titles[0].scenes) == 1:
        return None, ""
    key = _by_names(path, want.study, Address(None, None, want.visit.setup, want.visit.number, 1))
    return ((key.title, key.scene) if key else None), ""


def _by_names(path: PurePath, study: Study, stated: Address) -> RunKey | None:
    parts = {name: getattr(stated, name) for name in ("title", "scene", "setup", "visit", "run")}
    found = keys_by_names((path,), study, parts)
    return found[0].get(path) if found else None


def _by_pattern(path: PurePath, want: Wanted) -> RunKey | None:
    key = guess_keys((path,), want.pattern).keys.get(path)
    if key is None:
        return None
    key = in_study(want.study, key)
    return None if outside(want.study, key, str(path)) else key


def label(study: Study, place: Place) -> str:
    """A scene as people call it: its title, and the scene where a title has several."""
    title = study.title(place[0])
    if len(title.scenes) == 1:
        return title.label
    return f"{title.label}, {next(s.label for s in title.scenes if s.name == place[1])}"


def relative(path: Path, folder: Path) -> PurePath:
    """A file's path below the folder that is watched."""
    return path.relative_to(folder) if path.is_relative_to(folder) else PurePath(path.name)


def among(missing: Sequence[RunKey], key: RunKey) -> int:
    """How many runs of a key's scene are still missing."""
    return sum((k.title, k.scene) == (key.title, key.scene) for k in missing)


def _setup(want: Wanted) -> str:
    return want.study.setup(want.visit.setup).label


def _seconds(text: str) -> float:
    """Seconds since 1970 of a moment of ISO 8601."""
    return datetime.fromisoformat(text).timestamp()
