"""What a taking in reports to people."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from evenhand.book.model import Added
from evenhand.errors import Problem
from evenhand.frames.account import LOST_MANY, LOST_ONE
from evenhand.frames.model import Stretch
from evenhand.wording import counted, listed, plain
from evenhand.writeup.model import Section

#: What a report lists before it says how many more there are.
SHOWN: Final = 12
_NUMBERS: Final = re.compile(r"\d+(?:[.,]\d+)?")
#: Refusals of one kind that are told in full.
WHOLE: Final = 3


@dataclass(frozen=True, slots=True)
class Refusal:
    """A log that was not taken in, and why."""

    path: Path
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class TakeReport:
    """What became of every log.

    taken, already, reread : runs by what became of them. left_out : files that no run was made of. stretches : those fixed by
    this taking in. account : how paths were read, where they were. proofs : what became of visits that got a snapshot.
    """

    taken: tuple[Added, ...] = ()
    already: tuple[Added, ...] = ()
    reread: tuple[Added, ...] = ()
    refused: tuple[Refusal, ...] = ()
    left_out: Mapping[Path, str] = field(default_factory=dict)
    stretches: tuple[Stretch, ...] = ()
    account: str = ""
    proofs: tuple[str, ...] = ()

    def sections(self) -> tuple[Section, ...]:
        """The report for people: what is in, what is not and why, what was left out."""
        made = [self._in()]
        if self.refused:
            heading = f"{counted(len(self.refused), 'log was', 'logs were')} refused; the book has no trace of them"
            made.append(Section("refused", heading, items=tuple(_refused(self.refused))))
        if self.left_out:
            heading = f"{counted(len(self.left_out), 'file was', 'files were')} left out"
            made.append(Section("left-out", heading, items=tuple(_reasons(self.left_out))))
        return tuple(made)

    def _in(self) -> Section:
        heads = [counted(len(self.taken), "run") + " taken in"]
        if self.already:
            heads.append(f"{len(self.already)} there already")
        if self.reread:
            heads.append(f"{len(self.reread)} read anew")
        items = _understood((*self.taken, *self.reread))
        notes = [
            f"{added.run.key} is the very same log as {listed([str(twin) for twin in added.twins])}"
            for added in self.taken
            if added.twins
        ]
        notes += _short(self.taken + self.reread)
        fixed = [f"stretch of {_scene(s.scene)} fixed: {s.why}" for s in self.stretches]
        said = (self.account,) if self.account else ()
        return Section("taken", "; ".join(heads), paragraphs=said, items=(*_cut(items), *notes, *self.proofs, *fixed))


def _understood(added: tuple[Added, ...]) -> list[str]:
    """How the logs were understood; those that were understood alike together, with the first of them named. What an account says
    of one log alone (its number of frames, its length) does not part it from the others.
    """
    alike: dict[str, list[Added]] = {}
    for one in added:
        alike.setdefault(_NUMBERS.sub("#", one.run.account), []).append(one)
    return [
        f"{counted(len(same), 'log')}, for example {same[0].run.key}: {plain(same[0].run.account)}"
        if len(same) > 1
        else f"{same[0].run.key}: {plain(same[0].run.account)}"
        for same in alike.values()
    ]


def _short(added: tuple[Added, ...]) -> Iterator[str]:
    """Runs whose log lost rows by its own counter."""
    runs = [a.run for a in added if LOST_ONE in a.run.account or LOST_MANY in a.run.account]
    if runs:
        named = [str(run.key) for run in runs[:SHOWN]] + ([f"{len(runs) - SHOWN} more"] if len(runs) > SHOWN else [])
        whose = "its" if len(runs) == 1 else "their"
        yield f"{counted(len(runs), 'log')} with rows lost by {whose} own counter, frames are missing there: {listed(named)}"


def _scene(name: str) -> str:
    """`keep` for the only scene of a title, `keep/attic` for one of several."""
    title, _, scene = name.partition("/")
    return title if scene == title else name


def _refused(refused: tuple[Refusal, ...]) -> Iterator[str]:
    """Each kind of refusal: the first ones whole, the others by name. A preview of guesses is long, so it is shown once."""
    kinds: dict[str, list[Refusal]] = {}
    for refusal in refused:
        kinds.setdefault(refusal.problems[0].slug, []).append(refusal)
    for slug, same in kinds.items():
        whole = 1 if slug == "log-unclear" else WHOLE
        yield from (str(problem) for refusal in same[:whole] for problem in refusal.problems)
        if others := [refusal.path.name for refusal in same[whole:]]:
            rest = f" and {len(others) - SHOWN} more" if len(others) > SHOWN else ""
            yield f"the same [{slug}] for {', '.join(others[:SHOWN])}{rest}"


def _reasons(left_out: Mapping[Path, str]) -> Iterator[str]:
    """Each reason once, with the first files that it holds for."""
    reasons: dict[str, list[Path]] = {}
    for path, why in left_out.items():
        reasons.setdefault(why, []).append(path)
    for why, paths in reasons.items():
        rest = f" and {len(paths) - WHOLE} more" if len(paths) > WHOLE else ""
        yield f"{', '.join(map(str, paths[:WHOLE]))}{rest}: {why}"


def _cut(items: list[str]) -> tuple[str, ...]:
    rest = len(items) - SHOWN
    return (*items[:SHOWN], f"and {rest} more") if rest > 0 else tuple(items)
