"""Two processes write to one book at once: each run is there once, each event too, and the first stretch stays."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from evenhand.book.book import Book

WRITER = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[3])
from conftest import made_run
from evenhand.book.book import Book
from evenhand.frames.model import Stretch
folder, who = Path(sys.argv[1]), sys.argv[2]
print("ready", flush=True)
sys.stdin.readline()
with Book.open(folder) as book:
    for n in range(1, 26):
        book.add_run(made_run(n))
        book.add_run(made_run(n, setup=who))
        book.note("note", f"{who} {n}")
    book.decide_stretch(Stretch("night-ferry/deck", "clock", "rule-1", 0.0, 30.0, decided_by=who))
"""


def test_two_processes_write_at_once(tmp_path: Path) -> None:
    (tmp_path / "study.toml").write_text("question = 'q'\n", encoding="utf-8")
    command = [sys.executable, "-c", WRITER, str(tmp_path)]
    here = str(Path(__file__).parent)
    names = ("ada", "bea")
    writers = [
        subprocess.Popen([*command, who, here], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        for who in names
    ]
    for writer in writers:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "ready\n"
    for writer in writers:
        assert writer.stdin is not None
        writer.stdin.write("go\n")
        writer.stdin.flush()
    for writer in writers:
        _, complaints = writer.communicate(timeout=60)
        assert (writer.returncode, complaints) == (0, "")
    with Book.open(tmp_path) as book:
        keys = [run.key for run in book.runs()]
        assert len(keys) == len(set(keys)) == 75
        assert {(key.setup, key.run) for key in keys} == {(s, n) for s in ("lean", *names) for n in range(1, 26)}
        notes = [event.text for event in book.events() if event.kind == "note"]
        assert sorted(notes) == sorted(f"{who} {n}" for who in names for n in range(1, 26))
        assert len([event for event in book.events() if event.kind == "stretch"]) == 1
        assert all(book.original(run.sha256) for run in book.runs())
        assert not book.strays()
