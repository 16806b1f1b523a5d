"""Watches a folder, telling what has landed; run by test_watch_kill.py, which kills it, or bids it kill itself at a step.

arguments: study folder, watched folder, at which durable step to die (0 = never)
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path

from evenhand.book import connection
from evenhand.steps import watch as watching
from evenhand.steps.addresses import Address

watching.PERIOD_S = 0.05
steps = 0


def counted(step: Callable[..., object], at: int) -> Callable[..., object]:
    """The same step, after which this process ends itself when its number is up."""

    def watched(*args: object, **values: object) -> object:
        global steps
        steps += 1
        result = step(*args, **values)
        if steps == at:
            os.kill(os.getpid(), getattr(signal, "SIGKILL", signal.SIGTERM))
        return result

    return watched


def main(study: str, folder: str, at: str) -> None:
    stated = Address(None, None, "plain", 1)
    os.fsync = counted(os.fsync, int(at))  # type: ignore[assignment]
    connection.Connection.insert = counted(connection.Connection.insert, int(at))  # type: ignore[assignment,method-assign]
    watching.watch(
        Path(study),
        Path(folder),
        since="all",
        stated=stated,
        stop_after=1.0,
        say=lambda lines: print("ready", flush=True),
        tell=lambda told: print(told.became, Path(told.file).name, flush=True),
    )


if __name__ == "__main__":
    main(*sys.argv[1:])
