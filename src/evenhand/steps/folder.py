"""What lies in a watched folder, and whether somebody is writing to it: the system's part of watching.

The folder is listed again and again rather than reported on by the system: notices of change do not reach over network drives,
differ between systems, and none of them says that a writer is done.
"""

from __future__ import annotations

import contextlib
import os
import signal
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

from evenhand.steps.arrivals import Stamp, There

if sys.platform == "win32":
    import ctypes
    from ctypes import wintypes
else:
    import fcntl

#: As SetPriorityClass has it (Windows API).
_IDLE: Final = 0x40
#: As CreateFileW has it: read; sharing for reading and deleting, so not for writing; the file must be there.
_READ: Final = 0x80000000
_SHARE_NO_WRITING: Final = 0x1 | 0x4
_THERE: Final = 3


def listed(folder: Path, known: Mapping[Path, Stamp], *, thorough: bool = True) -> Iterator[There]:
    """The files of a folder and of the folders right in it; what vanishes meanwhile, or may not be seen, is passed over.

    known : files that are settled; unless `thorough` they are not looked at again. Of others the file itself is asked, since a
    listing may be old on Windows and network drives while a file is open. Raises OSError where the folder itself is gone.
    """
    with os.scandir(folder) as entries:
        found = list(entries)
    for entry in found:
        if entry.is_dir(follow_symlinks=False):
            if not entry.name.startswith("."):
                with contextlib.suppress(OSError), os.scandir(entry.path) as inside:
                    for one in inside:
                        yield from _there(one, known, thorough)
        else:
            yield from _there(entry, known, thorough)


def _there(entry: os.DirEntry[str], known: Mapping[Path, Stamp], thorough: bool) -> Iterator[There]:
    path = Path(entry.path)
    with contextlib.suppress(OSError):
        if path in known:
            if not thorough:
                yield There(path, known[path])
                return
            status = entry.stat()
        else:
            status = os.stat(path)  # noqa: PTH116 - not the listing's word
        if entry.is_file():
            yield There(path, Stamp(status.st_size, status.st_mtime_ns), (status.st_ino, status.st_dev) if status.st_ino else 0)


def stamp_of(path: Path) -> Stamp:
    """The state of a file. Raises OSError."""
    status = path.stat()
    return Stamp(status.st_size, status.st_mtime_ns)


if sys.platform == "win32":

    def written(path: Path) -> bool | None:
        """Whether somebody has the file open for writing; None where that cannot be told."""
        handle = _kernel().CreateFileW(str(path), _READ, _SHARE_NO_WRITING, None, _THERE, 0, None)
        if handle in (None, wintypes.HANDLE(-1).value):
            return True
        _kernel().CloseHandle(wintypes.HANDLE(handle))
        return False

    def be_gentle() -> None:
        """Give this process the least claim to processor time."""
        _kernel().SetPriorityClass(wintypes.HANDLE(_kernel().GetCurrentProcess()), _IDLE)

    def _kernel() -> ctypes.WinDLL:
        kernel = ctypes.WinDLL("kernel32", use_last_error=True)
        kernel.CreateFileW.restype = wintypes.HANDLE
        kernel.GetCurrentProcess.restype = wintypes.HANDLE
        return kernel

else:

    def written(path: Path) -> bool | None:
        """Whether somebody has the file open for writing; None where that cannot be told (network drives, other people's files).

        A read lease is granted only while nobody writes (fcntl(2), F_SETLEASE; Linux); it is given back at once.
        """
        lease = getattr(fcntl, "F_SETLEASE", None)
        if lease is None:
            return None
        try:
            handle = os.open(path, os.O_RDONLY)
        except OSError:
            return None
        try:
            fcntl.fcntl(handle, lease, fcntl.F_RDLCK)
            fcntl.fcntl(handle, lease, fcntl.F_UNLCK)
        except BlockingIOError:
            return True
        except OSError:
            return None
        finally:
            os.close(handle)
        return False

    def be_gentle() -> None:
        """Give this process the least claim to processor time."""
        os.nice(19)


def ignore_leases() -> None:
    """Somebody who opens a file in the very moment of our lease makes the system signal us, which would end the process."""
    if hasattr(signal, "SIGIO"):
        signal.signal(signal.SIGIO, signal.SIG_IGN)
