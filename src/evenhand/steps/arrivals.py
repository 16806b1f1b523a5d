"""When a file that appeared in a watched folder is finished. Pure: it is told what is there and when, and keeps no clock.

A file is finished when its writer is done with it: renamed into place from a temporary name; or closed and still for a moment;
or, where nobody can say whether it is closed, still for a second. A recorder that pauses between its writes teaches patience:
later files of the folder must be still for longer than the longest pause that turned out not to be the end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

#: Seconds without change after which a file is finished: nobody has it open for writing; nobody can say so; somebody has.
CLOSED_S: Final = 0.2
STILL_S: Final = 1.0
OPEN_S: Final = 10.0
#: Of a log that would be spoiled if it were all there is: its writer may merely be slow.
DOUBTED_S: Final = 10.0
#: A pause counts for so much more than it was.
MORE: Final = 1.5
#: A longer pause says nothing about the recorder: somebody appended to the file another time.
LONGEST_PAUSE_S: Final = 60.0

#: Endings of names that browsers, editors and copying programs give to what is not finished (common practice, no source).
UNFINISHED: Final = (".tmp", ".temp", ".part", ".partial", ".crdownload", ".download", ".filepart", ".swp", ".swx", ".lock", "~")
#: Beginnings of such names; also of hidden files.
BEGUN: Final = (".", "~", "#")


def temporary(name: str) -> bool:
    """Whether a file's name says that it is not finished, or not for people."""
    return name.startswith(BEGUN) or name.casefold().endswith(UNFINISHED)


@dataclass(frozen=True, slots=True)
class Stamp:
    """What tells one state of a file from another without reading it."""

    size: int
    mtime_ns: int


@dataclass(frozen=True, slots=True)
class There:
    """A file that is there now. identity : tells files apart whatever their names (inode and device); 0 = not known."""

    path: Path
    stamp: Stamp
    identity: tuple[int, int] | int = 0


@dataclass(slots=True)
class _Waiting:
    """A file whose writer may be at work. since : when it was last seen to change. held : somebody had it open in this pause."""

    stamp: Stamp
    since: float
    changes: int = 0
    held: bool = False
    least: float = 0.0
    renamed: bool = False


@dataclass(slots=True)
class Arrivals:
    """The files of one folder.

    known : files whose present state is settled. written : says whether somebody has a file open for writing (None = cannot be
    told); only asked about files that stand still.
    """

    written: Callable[[Path], bool | None]
    known: dict[Path, Stamp] = field(default_factory=dict)
    _waiting: dict[Path, _Waiting] = field(default_factory=dict)
    _temporary: dict[tuple[int, int] | int, Path] = field(default_factory=dict)
    _open_pause: float = 0.0
    _pause: float = 0.0

    def look(self, now: float, files: Iterable[There]) -> tuple[Path, ...]:
        """The files that are finished by `now` (seconds of a steady clock), in the order in which they last changed."""
        listed = list(files)
        before, self._temporary = self._temporary, {f.identity: f.path for f in listed if f.identity and temporary(f.path.name)}
        seen = {f.path: f for f in listed if not temporary(f.path.name) and f.stamp.size}
        for path in [path for path in self._waiting if path not in seen]:
            del self._waiting[path]
        for path, file in seen.items():
            if self.known.get(path) != file.stamp:
                self._saw(now, file, before)
        done = [path for path in self._waiting if self._finished(now, path)]
        done.sort(key=lambda path: (self._waiting[path].since, self._waiting[path].stamp.mtime_ns))
        for path in done:
            self.known[path] = self._waiting.pop(path).stamp
        return tuple(done)

    def doubt(self, now: float, path: Path, least: float = DOUBTED_S) -> None:
        """Wait for a file that was called finished: it is called so again when it stands still for `least` seconds more."""
        self._waiting[path] = _Waiting(self.known.pop(path), now, least=least)

    def learn(self, pause: float) -> None:
        """A file went on after it was called finished: `pause` seconds without change were not its end."""
        if pause <= LONGEST_PAUSE_S:
            self._pause = max(self._pause, pause)

    @property
    def waiting(self) -> bool:
        """Whether any file is there that is not finished."""
        return bool(self._waiting)

    def quiet(self, now: float, seconds: float) -> bool:
        """Whether nothing has been written to for so long."""
        return all(now - waiting.since >= seconds for waiting in self._waiting.values())

    def _saw(self, now: float, file: There, before: Mapping[tuple[int, int] | int, Path]) -> None:
        there = self._waiting.get(file.path)
        if there is None:
            was = before.get(file.identity) if file.identity else None
            renamed = was is not None and file.identity not in self._temporary
            self._waiting[file.path] = _Waiting(file.stamp, now, renamed=renamed)
        elif there.stamp != file.stamp:
            self._paused(now - there.since, there)
            there.stamp, there.since, there.renamed, there.held, there.least = file.stamp, now, False, False, 0.0
            there.changes += 1

    def _paused(self, pause: float, there: _Waiting) -> None:
        """A pause in the middle of a file is over. Of one in which the file was open only open files need to be waited for."""
        if pause > LONGEST_PAUSE_S:
            return
        if there.held:
            self._open_pause = max(self._open_pause, pause)
        else:
            self._pause = max(self._pause, pause)

    def _finished(self, now: float, path: Path) -> bool:
        there = self._waiting[path]
        still = now - there.since
        if still < there.least or (still < CLOSED_S and not there.renamed):
            return False
        held = self.written(path)
        there.held = held is True
        if there.renamed and not held:
            return True
        if held:
            return still >= max(OPEN_S, MORE * self._open_pause)
        return still >= max(CLOSED_S if held is False else STILL_S, MORE * self._pause)
