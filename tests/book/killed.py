"""Takes a folder of logs in, telling what is safe; run by test_kill.py, which kills it, or bids it kill itself at a step.

arguments: study folder, folder of logs, at which durable step to die (0 = never), "before" or "after" that step
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path

from evenhand.book import connection
from evenhand.steps import take as taking

PATTERN = "{title}/{setup}-v{visit}-r{run}"
#: Small groups, so that there are many commits to be killed in.
taking.GROUP_RUNS = 3
steps = 0


def die() -> None:
    os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))


def counted(step: Callable[..., object], at: int, when: str) -> Callable[..., object]:
    """The same step, which is the last thing this process does when its number is up."""

    def watched(*args: object) -> object:
        global steps
        steps += 1
        if steps == at and when == "before":
            die()
        result = step(*args)
        if steps == at:
            die()
        return result

    return watched


def main(study: str, logs: str, at: str, when: str) -> None:
    os.fsync = counted(os.fsync, int(at), when)  # type: ignore[assignment]
    Path.replace = counted(Path.replace, int(at), when)  # type: ignore[assignment,method-assign]
    connection.Connection.insert = counted_method(connection.Connection.insert, int(at), when)  # type: ignore[method-assign]
    print("ready", flush=True)
    sys.stdin.readline()
    taking.take_logs(Path(study), [logs], pattern=PATTERN, progress=lambda done, total, what="": print(what, flush=True))
    print(f"finished after {steps} steps", flush=True)


def counted_method(method: Callable[..., int], at: int, when: str) -> Callable[..., int]:
    """As `counted`, for a method that is called with names."""
    watched = counted(lambda call: call(), at, when)
    return lambda self, *args, **values: watched(lambda: method(self, *args, **values))  # type: ignore[return-value]


if __name__ == "__main__":
    main(*sys.argv[1:])
