"""The list of what a publishing wrote, so that the next one can take away what it no longer writes, and nothing else."""

from __future__ import annotations

import contextlib
import hashlib
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Final

from evenhand.book.durable import write_whole

#: Name of the list; a line a file, in the form that `sha256sum --check` reads.
LIST: Final = "published.sha256"
_LINE: Final = re.compile(r"([0-9a-f]{64})  (.+)")


def keep_list(target: Path, written: Iterable[Path], keep: str = "") -> tuple[Path, ...]:
    """List the files `written` below `target`, and delete those that an earlier list has and this one does not; returns these.

    A file that is no longer what was published is a person's own by now and stays. keep : folder below `target` whose files stay
    listed though they were not written again; empty = none.
    """
    before = _listed(target / LIST)
    now = {path.relative_to(target).as_posix(): _digest(path) for path in written}
    kept = {name: sha256 for name, sha256 in before.items() if keep and name.startswith(f"{keep}/") and name not in now}
    lines = "".join(f"{sha256}  {name}\n" for name, sha256 in sorted({**kept, **now}.items()))
    write_whole(target / LIST, lines.encode("utf-8"), durable=False)
    return tuple(_taken_away(target, {name: before[name] for name in before.keys() - now.keys() - kept.keys()}))


def _listed(path: Path) -> dict[str, str]:
    if not path.is_file():
        return {}
    found = (_LINE.fullmatch(line) for line in path.read_text(encoding="utf-8", errors="replace").splitlines())
    return {line[2]: line[1] for line in found if line}


def _taken_away(target: Path, names: Mapping[str, str]) -> Iterable[Path]:
    inside = target.resolve()
    for name, sha256 in sorted(names.items()):
        path = target / name
        if inside in path.resolve().parents and path.is_file() and not path.is_symlink() and _digest(path) == sha256:
            with contextlib.suppress(OSError):  # another program holds it: it goes another time
                path.unlink()
                yield path


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
