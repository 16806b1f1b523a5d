"""Make a study: study.toml and an empty book."""

from __future__ import annotations

from pathlib import Path

from evenhand.book.book import Book
from evenhand.errors import Problem, UsageError
from evenhand.study.read import parse_study
from evenhand.study.source import study_source
from evenhand.study.starter import starter_text
from evenhand.wording import quoted


def new(folder: Path, start: Path | None = None) -> tuple[str, ...]:
    """Make the study folder; `start` names a study.toml to begin from. Returns what to say. Raises UsageError, StudyError."""
    if (folder / "study.toml").exists():
        what, do = "there is a study in this folder already", "name another folder, or edit its study.toml"
        raise UsageError(Problem("study-exists", what, str(folder), do))
    text = study_source(start) if start else starter_text()
    study = parse_study(text, str(start or folder / "study.toml"))
    Book.create(folder, text).close()
    return (
        f"Made {folder / 'study.toml'}: {len(study.setups)} setups, {len(study.titles)} titles, "
        f"{study.protocol.visits} visits of {study.protocol.runs} runs. It is valid as it stands; write your question into it.",
        f'Next: evenhand take {quoted(folder)} LOGS --pattern "{{title}}/{{setup}}-v{{visit}}-r{{run}}"',
        f"To take this back, delete the folder {folder}; nothing else was written.",
    )
