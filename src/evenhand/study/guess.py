"""Which run each log of a folder is, guessed from the names of folders and files, or read by a pattern."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import Final

from evenhand.study.addressing import NO_SETUP, NO_TITLE, Assigned, assign, natural
from evenhand.study.candidates import candidates
from evenhand.study.crossing import Fit, fit_of
from evenhand.study.found import factors_of, study_of
from evenhand.study.model import RunKey
from evenhand.study.pattern import Field, Pattern, bare, parse_pattern
from evenhand.study.sieve import sieve
from evenhand.wording import counted

__all__ = ["Guess", "factors_of", "guess_keys", "study_of"]

_MANY: Final = 1500  # files beyond which patterns are tried on the first of them, then the best few on all
_CLEAR: Final = 1.0  # lead over the next reading that makes a guess confident
_SOUND: Final = -2.5  # structure below which no guess is confident
_OTHERS: Final = 3  # alternatives told


@dataclass(frozen=True, slots=True)
class Guess:
    """Which run each path is.

    keys : of the logs. left_out : the other paths with the reason. pattern : expresses the reading; given to `guess_keys` it
    brings the same keys. confident : no other reading comes near, and the runs form a study. account : one line for people.
    alternatives : patterns of the next best readings.
    """

    keys: Mapping[PurePath, RunKey]
    left_out: Mapping[PurePath, str]
    pattern: str
    confident: bool
    account: str
    alternatives: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Reading:
    pattern: Pattern
    found: Assigned
    fit: Fit


def guess_keys(paths: Sequence[PurePath], pattern: str | None = None) -> Guess:
    """The run of each path, relative to one folder. Raises UsageError for a pattern that cannot be understood."""
    logs, left_out = sieve(paths)
    if pattern is not None:
        stated = parse_pattern(pattern)
        return _told(_read(stated, logs), logs, left_out, stated=True)
    readings = _ranked(logs)
    if not readings:
        what = (
            "no file here could be a frame log by its name"
            if not logs
            else "the names of the logs follow no pattern that could be made out"
        )
        reason = dict.fromkeys(logs, "its path follows no pattern that could be made out")
        return Guess({}, {**left_out, **reason}, "", False, what)
    return _told(readings[0], logs, left_out, others=readings[1:])


def _read(pattern: Pattern, logs: Sequence[PurePath]) -> _Reading:
    found = assign(pattern, logs)
    return _Reading(pattern, found, fit_of(pattern, found))


def _ranked(logs: Sequence[PurePath]) -> list[_Reading]:
    """Readings of the logs, best first; of those that give the same runs only the best."""
    if not logs:
        return []
    sample = sorted(logs, key=lambda p: natural(p.as_posix()))[:_MANY]
    telling = [p for p in candidates([bare(p) for p in sample]) if p.fields]
    tried = sorted((_read(p, sample) for p in telling), key=lambda r: -r.fit.total)
    if len(sample) < len(logs):
        tried = sorted((_read(r.pattern, logs) for r in tried[:6]), key=lambda r: -r.fit.total)
    different: dict[tuple[tuple[int, ...], ...], _Reading] = {}
    for reading in tried:
        different.setdefault(_partition(reading.found, logs), reading)
    return [r for r in different.values() if r.found.keys]


def _partition(found: Assigned, logs: Sequence[PurePath]) -> tuple[tuple[int, ...], ...]:
    """Which logs share title, scene and setup, whatever these are called: patterns that differ only in names are one reading."""
    numbers: tuple[dict[str, int], ...] = ({}, {}, {})
    whole: list[tuple[int, ...]] = []
    for path in logs:
        key = found.keys.get(path)
        if key is None:
            whole.append((-1,))
            continue
        names = (key.title, f"{key.title}/{key.scene}", key.setup)
        whole.append((*(seen.setdefault(n, len(seen)) for seen, n in zip(numbers, names, strict=True)), key.visit, key.run))
    return tuple(whole)


def _told(
    best: _Reading,
    logs: Sequence[PurePath],
    left_out: Mapping[PurePath, str],
    *,
    others: Sequence[_Reading] = (),
    stated: bool = False,
) -> Guess:
    keys = best.found.keys
    reasons = dict(left_out)
    reasons |= dict.fromkeys(best.found.unmatched, f"its path does not fit {best.pattern}")
    reasons |= {path: f"it would be the same run as {first.as_posix()}" for path, first in best.found.clashes.items()}
    near = [r for r in others if best.fit.total - r.fit.total < _CLEAR]
    named = {Field.TITLE, Field.SCENE} & set(best.pattern.fields)
    clear = bool(named) and not near and best.fit.structure > _SOUND and len({k.setup for k in keys.values()}) > 1
    complete = bool(keys) and not best.found.clashes and (stated or clear)
    account = _account(best, len(logs))
    return Guess(
        keys,
        {path: reasons[path] for path in sorted(reasons, key=lambda p: natural(p.as_posix()))},
        str(best.pattern),
        complete,
        account if complete or stated else f"{account}; this is not certain",
        tuple(str(r.pattern) for r in (near or others)[:_OTHERS]) if not complete else (),
    )


def _account(reading: _Reading, logs: int) -> str:
    """`4 titles × 4 setups × 3 visits × 2 runs from {title}/{setup}-v{visit}-r{run}`."""
    keys = reading.found.keys.values()
    if not keys:
        return f"none of {counted(logs, 'file')} fits {reading.pattern}"
    titles, scenes = {k.title for k in keys}, {(k.title, k.scene) for k in keys}
    setups = {k.setup for k in keys}
    visits = max(len({k.visit for k in keys if k.setup == s}) for s in setups)
    cells = {(k.title, k.scene, k.setup, k.visit) for k in keys}
    runs = max(sum((k.title, k.scene, k.setup, k.visit) == cell for k in keys) for cell in cells)
    parts = [counted(len(titles), "title")]
    parts += [counted(len(scenes), "scene")] if len(scenes) != len(titles) else []
    parts += [counted(len(setups), "setup"), counted(visits, "visit"), counted(runs, "run")]
    whole = " × ".join(parts)
    full = len(scenes) * len(setups) * visits * runs
    said = f"{whole} from {reading.pattern}" if len(keys) == full else f"{len(keys)} logs of {whole} from {reading.pattern}"
    return said + "".join(f"; {remark}" for remark in _remarks(reading.pattern))


def _remarks(pattern: Pattern) -> list[str]:
    fields = pattern.fields
    remarks = []
    if Field.VISIT not in fields and Field.DATE not in fields:
        remarks.append("no visit in the names, so all runs of a setup count as one visit")
    if Field.DATE in fields and Field.VISIT not in fields:
        remarks.append("each day under a setup counts as a visit")
    if Field.SETUP not in fields:
        remarks.append(f'no setup in the names, so it is called "{NO_SETUP}"')
    if Field.TITLE not in fields and Field.SCENE not in fields:
        remarks.append(f'no title in the names, so it is called "{NO_TITLE}"')
    return remarks
