#!/usr/bin/env python3
"""Set up and run Evenhand's chores. Needs only Python 3.11 or later, with pip; standard library only.

    python dev.py demo            build the two example studies and their reports (the main job)
    python dev.py test            all tests              [--slow] [--browser] [pytest arguments]
    python dev.py lint            style, types, import layers, generated pages
    python dev.py speed           benchmarks, as ratios  [NAME] ("calibration" = the full calibration grid)
    python dev.py docs            write the generated pages anew  [--check]

Everything is installed into .venv beside this file, from the lock files with their hashes.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import venv
from pathlib import Path

HOME = Path(__file__).resolve().parent
VENV = HOME / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
RUN_LOCK, DEV_LOCK = "requirements.lock", "requirements-dev.lock"


def run(*command: str | Path, check: bool = True) -> int:
    """Run a command in the checkout; stop with its exit status when it fails."""
    status = subprocess.run([str(part) for part in command], cwd=HOME, check=False).returncode
    if status and check:
        sys.exit(status)
    return status


def make_venv() -> None:
    """A virtual environment with pip, also where the system's Python lacks `ensurepip` (Debian without python3-venv)."""
    if PYTHON.exists():
        return
    try:
        venv.create(VENV, with_pip=True, clear=True)
    except (subprocess.CalledProcessError, ImportError, SystemExit):
        venv.create(VENV, with_pip=False, clear=True)
        run(sys.executable, "-m", "pip", "--python", PYTHON, "install", "--quiet", "pip")


def set_up(lock: str) -> None:
    """Install what `lock` names, unless just that is installed already."""
    if sys.version_info < (3, 11):
        sys.exit("Evenhand needs Python 3.11 or later; this is " + sys.version.split()[0])
    wanted = hashlib.sha256((HOME / lock).read_bytes() + (HOME / "pyproject.toml").read_bytes()).hexdigest()
    stamp = VENV / f"{lock}.installed"
    if PYTHON.exists() and stamp.exists() and stamp.read_text(encoding="ascii") == wanted:
        return
    print(f"Setting up .venv from {lock} ...", flush=True)
    make_venv()
    pip = (PYTHON, "-m", "pip", "--disable-pip-version-check", "install", "--quiet")
    run(*pip, "--require-hashes", "-r", HOME / lock)
    run(*pip, "--no-deps", "--no-build-isolation", "-e", HOME)
    stamp.write_text(wanted, encoding="ascii")


def demo(arguments: list[str]) -> None:
    """The main job on two examples, into the folder demo/."""
    set_up(RUN_LOCK)
    run(PYTHON, "-m", "evenhand", "demo", *(arguments or ["demo"]))


def test(arguments: list[str]) -> None:
    """All tests; the slow simulations and the browser's pages only when asked for."""
    set_up(DEV_LOCK)
    left_out = [mark for mark in ("slow", "browser") if f"--{mark}" not in arguments]
    rest = [a for a in arguments if a not in ("--slow", "--browser")]
    marks = " and ".join(f"not {mark}" for mark in left_out)
    run(PYTHON, "-m", "pytest", *(["-m", marks] if marks else []), *(rest or ["-n", "2", "--dist", "loadfile"]))


def lint(_: list[str]) -> None:
    """Style, types, import layers and generated pages; all are run, then the status is the worst."""
    set_up(DEV_LOCK)
    statuses = [
        run(PYTHON, "-m", "ruff", "check", ".", check=False),
        run(PYTHON, "-m", "ruff", "format", "--check", "--quiet", ".", check=False),
        run(PYTHON, "-m", "mypy", check=False),
        run(PYTHON, "-m", "pytest", "-q", "tests/contracts", check=False),
        run(PYTHON, "tools/make_docs.py", "--check", check=False),
    ]
    sys.exit(max(statuses))


def speed(arguments: list[str]) -> None:
    """Benchmarks: each prints a ratio against a general library in the same run."""
    set_up(DEV_LOCK)
    if arguments[:1] == ["calibration"]:
        run(PYTHON, "-m", "evenhand.rehearsal.calibration", *arguments[1:])
        return
    names = arguments or sorted(p.stem for p in (HOME / "benchmarks").glob("*.py"))
    for name in names:
        print(f"== {name}", flush=True)
        run(PYTHON, HOME / "benchmarks" / f"{name}.py")


def docs(arguments: list[str]) -> None:
    """The pages that are made from catalogues, schemas and help texts."""
    set_up(DEV_LOCK)
    run(PYTHON, "tools/make_docs.py", *arguments)


CHORES = {"demo": demo, "test": test, "lint": lint, "speed": speed, "docs": docs}

if __name__ == "__main__":
    if len(sys.argv) < 2 or sys.argv[1] not in CHORES:
        sys.exit(__doc__)
    CHORES[sys.argv[1]](sys.argv[2:])
