"""One word, one meaning: synonyms of the glossary's words stay out of source, documents and messages."""

from __future__ import annotations

import re
from pathlib import Path

import house

#: Word -> the glossary's. Whole words, in any case.
INSTEAD = {
    "configuration": "setup (of the PC), settings (of a scene)",
    "configurations": "setups",
    "dataset": "recordings",
    "datasets": "recordings",
    "discarded": "set aside",
    "benchmark pass": "run",
    "trial": "run",
    "game under test": "title",
    "workload": "scene",
    "1% low": "1 % low",
    "framerate": "frame rate",
    "frametime": "frame time",
    "trans" + "cript": "nothing: the word has no place here",
    "statistically significant": "what the verdict is",
}
#: Where a word stands in another sense.
ELSEWHERE: dict[str, str] = {}


def texts() -> list[Path]:
    source = [p for p in house.SOURCE.rglob("*") if p.suffix in {".py", ".html", ".j2", ".css", ".toml"}]
    pages = [*(house.ROOT / "docs").rglob("*.md"), *house.ROOT.glob("*.md")]
    return sorted(p for p in (*source, *pages) if "data" not in p.parts)


def test_the_glossary_is_kept() -> None:
    wrong = []
    for file in texts():
        where = file.relative_to(house.ROOT).as_posix()
        text = file.read_text(encoding="utf-8").lower()
        for word, right in INSTEAD.items():
            if where not in ELSEWHERE and re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", text):
                wrong.append(f"{where}: {word!r}; say {right}")
    assert not wrong, "\n".join(wrong)


def test_the_check_finds_a_word() -> None:
    assert re.search(r"(?<![\w-])trial(?![\w-])", "one trial.")
    assert not re.search(r"(?<![\w-])trial(?![\w-])", "industrial")
