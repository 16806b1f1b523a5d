"""Which files are meant, and which run of the study each of them is."""

from __future__ import annotations

import glob
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path, PurePath

from evenhand.book.book import LEDGER
from evenhand.errors import Problem, UsageError
from evenhand.steps.by_names import keys_by_names
from evenhand.study.guess import guess_keys
from evenhand.study.model import RunKey, Study
from evenhand.study.sieve import sieve
from evenhand.wording import counted, listed, nearest


@dataclass(frozen=True, slots=True)
class Address:
    """The parts of a run's key that options state; None = from the path."""

    title: str | None = None
    scene: str | None = None
    setup: str | None = None
    visit: int | None = None
    run: int | None = None

    @property
    def enough(self) -> bool:
        """Whether nothing need be read from paths (a run number can be counted)."""
        return None not in (self.title, self.setup, self.visit)


@dataclass(frozen=True, slots=True)
class Addressed:
    """Files with their runs. numbered : False = the run number was left open and is to be the next free one."""

    keys: Mapping[Path, RunKey]
    left_out: Mapping[Path, str] = field(default_factory=dict)
    account: str = ""
    numbered: bool = True


def find_logs(named: Sequence[str | Path]) -> tuple[Path, ...]:
    """The files meant by files, folders and globs, each once, in order of their names. Raises UsageError.

    A folder means all files below it but hidden ones and those of a study folder.
    """
    found: list[Path] = []
    problems = []
    for name in named:
        files = _files(Path(name), str(name))
        if not files:
            do = "check the path; quote a glob"
            problems.append(Problem("no-such-log", "there is no such file, and nothing that matches it", str(name), do))
        found += files
    if problems:
        raise UsageError(problems)
    return tuple(dict.fromkeys(found))


def _files(path: Path, text: str) -> list[Path]:
    if path.is_file():
        return [path]
    if path.is_dir():
        return sorted(_below(path))
    return sorted(p for p in map(Path, glob.glob(text, recursive=True)) if p.is_file())  # noqa: PTH207 - may be absolute


def _below(folder: Path) -> Iterable[Path]:
    for root, folders, names in os.walk(folder):
        if LEDGER in names:
            folders.clear()
            continue
        folders[:] = [name for name in folders if not name.startswith(".")]
        yield from (Path(root, name) for name in names if not name.startswith("."))


def address_logs(
    files: Sequence[Path], study: Study, *, pattern: str | None, stated: Address, roots: Sequence[str | Path] = ()
) -> Addressed:
    """Which run each file is: from options where they say enough, else from the path: by the pattern, by the names in the study,
    or guessed from the paths' form.

    roots : what the person named; where it is one folder, paths are read relative to it. Raises UsageError when paths do not
    tell clearly and no pattern was given.
    """
    if stated.enough and pattern is None:
        assert stated.title is not None and stated.setup is not None and stated.visit is not None
        key = RunKey(stated.title, stated.scene or stated.title, stated.setup, stated.visit, stated.run or 1)
        return Addressed({file: in_study(study, key) for file in files}, numbered=stated.run is not None)
    base = _base(files, roots)
    relative = {_relative(file, base): file for file in files}
    if pattern is None and (named := _by_names(files, base, study, stated)):
        return named
    guess = guess_keys(tuple(relative), pattern)
    if pattern is None and not guess.confident:
        do = f"if this is right, run it again with --pattern {guess.pattern!r}; else write the pattern your paths follow"
        what = f"which run each of {counted(len(files), 'log')} is cannot be told for sure from its path ({guess.account})"
        raise UsageError(Problem("which-run", what, str(base), do))
    keys = {relative[Path(path)]: in_study(study, _stated(key, stated)) for path, key in guess.keys.items()}
    return Addressed(keys, _back(relative, guess.left_out), guess.account)


def _by_names(files: Sequence[Path], base: Path, study: Study, stated: Address) -> Addressed | None:
    """By the study's own names in the paths below the folder that was named, or else with that folder's own name too."""
    for root in (base, base.absolute().parent):
        relative = {_relative(file, root): file for file in files}
        logs, no_logs = sieve(tuple(relative))
        if found := keys_by_names(logs, study, asdict(stated)):
            keys, left_out = found
            known = {relative[Path(path)]: key for path, key in keys.items()}
            return Addressed(known, _back(relative, {**no_logs, **left_out}), "read by the names in study.toml")
    return None


def _back(relative: Mapping[Path, Path], reasons: Mapping[PurePath, str]) -> dict[Path, str]:
    return {relative[Path(path)]: why for path, why in reasons.items()}


def _base(files: Sequence[Path], roots: Sequence[str | Path]) -> Path:
    if len(roots) == 1 and Path(roots[0]).is_dir():
        return Path(roots[0])
    folders = [str(file.absolute().parent) for file in files]
    try:
        return Path(os.path.commonpath(folders))
    except ValueError:  # files on several drives
        return Path(folders[0])


def _relative(file: Path, base: Path) -> Path:
    try:
        return file.absolute().relative_to(base.absolute())
    except ValueError:
        return Path(*file.absolute().parts[1:])


def _stated(key: RunKey, stated: Address) -> RunKey:
    parts = {name: getattr(stated, name) for name in ("title", "scene", "setup", "visit", "run")}
    return replace(key, **{name: value for name, value in parts.items() if value is not None})


def in_study(study: Study, key: RunKey) -> RunKey:
    """The key with its scene spelt out: a title's only scene need not be named, nor the title of a scene that only one has."""
    titles = {title.name: title for title in study.titles}
    if key.title in titles:
        scenes = [scene.name for scene in titles[key.title].scenes]
        if key.scene not in scenes and key.scene == key.title and len(scenes) == 1:
            return replace(key, scene=scenes[0])
        return key
    if key.scene == key.title:
        holders = [title.name for title in study.titles if key.scene in {scene.name for scene in title.scenes}]
        if len(holders) == 1:
            return replace(key, title=holders[0])
    return key


def outside(study: Study, key: RunKey, where: str) -> tuple[Problem, ...]:
    """What of a key the study does not know; empty when it knows all."""
    problems = []
    titles = {title.name: title for title in study.titles}
    if key.title not in titles:
        problems.append(_unknown("title", key.title, tuple(titles), where))
    elif key.scene not in (scenes := tuple(scene.name for scene in titles[key.title].scenes)):
        problems.append(_unknown("scene", key.scene, scenes, where))
    setups = tuple(setup.name for setup in study.setups)
    if key.setup not in setups:
        problems.append(_unknown("setup", key.setup, setups, where))
    return tuple(problems)


def _unknown(kind: str, name: str, known: tuple[str, ...], where: str) -> Problem:
    near = nearest(name, known)
    some = listed(known[:8]) + (" …" if len(known) > 8 else "")
    what = f"the study has no {kind} {name!r}; it has {some}"
    do = f"say --{kind} {near} if that is meant" if near else f"say which it is with --{kind} or --pattern"
    return Problem("not-in-study", what, where, f"{do}, or add it to study.toml")
