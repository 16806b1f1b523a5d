"""The only file that names failures.

Every failure has a slug (its row in docs/messages.md), what was found, where, and the way out.
One exception may carry several problems, so that a person sees them all at once.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong.

    Attributes
    ----------
    slug : key of `FAILURES`.
    what : what was given and what is allowed, one sentence without a full stop at its end.
    where : file, line, column or key; empty where there is none.
    do : the way out, in the imperative; may be empty only where `what` already says it.
    """

    slug: str
    what: str
    where: str = ""
    do: str = ""

    def __post_init__(self) -> None:
        if self.slug not in FAILURES:
            raise KeyError(f"errors.py has no failure named {self.slug!r}")

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        way_out = f"\n  -> {self.do}" if self.do else ""
        return f"{place}{self.what}  [{self.slug}]{way_out}"


class EvenhandError(Exception):
    """What every deliberate failure of Evenhand is. `exit_code` is the process's."""

    exit_code: int = 1

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        found = (problems,) if isinstance(problems, Problem) else tuple(problems)
        if not found:
            raise ValueError("an error without a problem")
        self.problems: tuple[Problem, ...] = found
        super().__init__("\n".join(str(p) for p in found))


class UsageError(EvenhandError):
    """The call itself cannot be carried out: a wrong option, a folder that is not there."""

    exit_code = 2


class StudyError(EvenhandError):
    """study.toml does not say what it must."""


class LogError(EvenhandError):
    """A frame log cannot be read, or cannot be understood without a word from the person."""


class BookError(EvenhandError):
    """The study folder's ledger, originals or derived data."""


class BenchError(EvenhandError):
    """A PC that cannot be looked at, or a snapshot that is none."""


class PlanError(EvenhandError):
    """A plan that cannot be made."""


class InputError(EvenhandError):
    """A table of what was measured beside the frames."""


class JudgingError(EvenhandError):
    """A table that cannot be judged."""


class ChartError(EvenhandError):
    """A chart that cannot be drawn."""


#: slug -> one line for docs/messages.md. Each slug is raised somewhere and shown whole in a test.
FAILURES: Final[dict[str, str]] = {
    # the call
    "too-many-files": "a folder holds more files than logs of one study",
    "keep-titles": "titles to keep that are no choice from the study's",
    "unknown-measure": "a measure that is not in the catalogue",
    "no-such-log": "a file, folder or glob that matches nothing",
    "option-unclear": "an option's value cannot be understood",
    "pattern-unclear": "a pattern of paths names a field that there is not, or nothing at all",
    "which-run": "the path of a log does not tell which run it is",
    # study.toml
    "study-unreadable": "the study file cannot be opened or is not text",
    "study-not-toml": "the study file breaks the rules of TOML",
    "study-unknown-key": "a key or table in study.toml is not known",
    "study-missing": "something that study.toml must say is missing",
    "study-value": "a value in study.toml has the wrong type or is outside what is allowed",
    "study-name": "a name in study.toml cannot be part of a path",
    "study-unknown-name": "a name in study.toml refers to something that it does not define",
    "study-duplicate": "the same thing is said twice in study.toml",
    "study-contradiction": "two statements of study.toml cannot both hold",
    # frame logs
    "log-unreadable": "a log cannot be opened, or its packing is damaged",
    "log-too-large": "a log is larger than a log of one run can be",
    "log-empty": "a log has nothing in it",
    "log-not-text": "a log is no text",
    "log-no-table": "a log is no table with one row a frame",
    "log-too-few-rows": "a log has too few rows to be a run",
    "log-unclear": "a log's columns can be read in several ways",
    "log-no-column": "a column that was named is not there, or holds no frames",
    "log-bad-row": "a row of a log cannot be a frame",
    "recipe-misfit": "a log is laid out otherwise than its recipe says",
    "sensors-unmapped": "nobody said which column of a sensor log is what",
    "sensors-nowhere": "no run can be lined up with a sensor log",
    # the book
    "no-study": "the folder holds no study",
    "study-exists": "a study is to be begun where there is one",
    "ledger-missing": "originals are there, but the ledger that says what they are is gone",
    "not-a-book": "book.sqlite is some other SQLite file",
    "newer-book": "the ledger was written by a newer version",
    "old-sqlite": "Python carries an SQLite that is too old",
    "book-busy": "another process is writing for too long",
    "book-damaged": "the ledger's file is damaged",
    "book-unwritable": "the study folder cannot be written to",
    "disk-full": "there is no room left for what is to be kept",
    "original-missing": "the original of a run is gone or cannot be read",
    "original-damaged": "an original is not what was taken in",
    "reads-otherwise": "this version reads a log to other frames than were taken in",
    "run-taken": "a run's place in the book has another log already",
    "not-in-study": "a title, scene or setup is not in study.toml",
    "no-such-run": "no run of that name is in the book",
    "nothing-counts": "a study has no run yet, or none that counts",
    "nothing-to-undo": "a decision is to be taken back where there is none",
    "interval-differs": "a log's intervals mean something else than the study says",
    # tables beside the logs
    "input-unreadable": "a table that the study names beside its logs cannot be opened or is not text",
    "input-column": "a table beside the logs lacks a column, or has one twice",
    "input-row": "a row of a table beside the logs names what the study does not have, or holds no number",
    # judging
    "table-kind": "the table is neither a data frame nor a list of records",
    "table-column": "the table lacks a column that judging needs",
    "table-empty": "the table has no row of the measures asked for",
    "table-value": "a value of the table is not a number",
    "table-setup": "the table names a setup that the design does not have",
    "table-doubled": "the table states a run more than once",
    "design-setups": "the design's setups, baseline or levels do not fit together",
    # the bench
    "not-a-snapshot": "a file is no snapshot of a PC",
    "no-such-snapshot": "a snapshot file is named that is not there",
    "visit-unknown": "nothing says which setup the PC is in and which visit this is",
    "setup-contradicted": "a snapshot of the PC contradicts the setup that is claimed",
    "visit-unclear": "a snapshot is to belong to a visit, but it does not tell of which setup",
    "no-such-change": "a change is to be waived that no snapshots show",
    # planning
    "plan-day": "a visit with a single title is longer than a day of bench work",
    "plan-disk": "a single title is larger than the disk",
    "nothing-due": "a visit is to be begun or ended where none is",
    "visit-unfinished": "a visit is to be begun while another still lacks runs",
    "file-unwritable": "a file that was asked for cannot be written where it was named",
    "plan-parts": "the titles cannot be split into that many parts",
    "noise-unknown": "a measure is to be rehearsed whose noise nothing tells",
    # charts and write-up
    "chart-not-drawn": "the drawing library refused a chart's specification",
}
