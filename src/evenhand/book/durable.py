"""Writing a file so that it is there whole or not at all, also after a power cut.

The bytes go to a temporary file in the same folder, are forced to the disk, and are then renamed into place. On Windows a
virus scanner or a cloud client may hold either file for a moment, so the rename is tried again for about two seconds.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from evenhand.errors import BookError, Problem

#: Temporary files carry this prefix; nothing else in a book does.
UNFINISHED = ".unfinished-"
#: A temporary file older than this belongs to a process that died.
STALE_S = 3600.0
_FULL: Final = {errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)}
_WAITS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.4, 0.6, 0.6)


def write_whole(path: Path, data: bytes, *, durable: bool = True) -> None:
    """Put `data` at `path`, replacing what was there. `durable` = not before it has reached the disk may this return.

    Raises OSError (disk full, no permission); then `path` is as it was.
    """
    unfinished = path.with_name(f"{UNFINISHED}{secrets.token_hex(8)}")
    try:
        with unfinished.open("xb") as file:
            file.write(data)
            if durable:
                file.flush()
                os.fsync(file.fileno())
        replace_patiently(unfinished, path)
    except BaseException:
        with contextlib.suppress(OSError):
            unfinished.unlink(missing_ok=True)
        raise
    if durable:
        sync_folder(path.parent)


def replace_patiently(source: Path, target: Path) -> None:
    """`os.replace`, tried again while another program holds one of the two files. Raises OSError when it never lets go."""
    for wait in _WAITS:
        try:
            source.replace(target)
        except PermissionError:
            time.sleep(wait)
        else:
            return
    source.replace(target)


def make_folder(path: Path) -> None:
    """Make a folder and see to it that its entry survives a power cut; parents must exist."""
    try:
        path.mkdir()
    except FileExistsError:
        return
    sync_folder(path.parent)


def sync_folder(path: Path) -> None:
    """Force a folder's entries to the disk. Windows has no such call: NTFS keeps its entries in a journal of its own."""
    if os.name == "nt":
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sweep(folder: Path) -> int:
    """Remove what died processes left half-written under `folder`; returns how many files."""
    removed = 0
    now = time.time()
    for path in folder.rglob(f"{UNFINISHED}*"):
        with contextlib.suppress(OSError):
            if now - path.stat().st_mtime > STALE_S:
                path.unlink()
                removed += 1
    return removed


@contextlib.contextmanager
def told(folder: Path) -> Iterator[None]:
    """Turns failures of the file system while writing into BookErrors with a way out."""
    try:
        yield
    except OSError as error:
        if error.errno in _FULL:
            do = "make room and run this again: what was reported as taken in is safe"
            raise BookError(Problem("disk-full", "the disk is full", str(folder), do)) from error
        do = "check that the folder can be written to, and that no other program holds its files"
        raise BookError(Problem("book-unwritable", f"cannot write here ({error.strerror})", str(folder), do)) from error
