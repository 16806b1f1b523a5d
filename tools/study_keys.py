"""The reference page of study.toml, made from the table of keys that the reader itself uses."""

from __future__ import annotations

from evenhand.study.keys import Key
from evenhand.study.schema import SCHEMA, TABLES
from evenhand.study.starter import starter_text

INTRODUCTION = """\
`study.toml` says what is asked, what is varied, what is played and how it is recorded. It is TOML 1.0, best saved as
UTF-8 (UTF-16 with its mark is read too). Names become parts of paths and words in commands, so they are free of
`/ \\ : * ? " < > | { }`, of invisible characters and of the names that Windows keeps for devices; two names that differ only
in capitals are the same name. Labels may be any text.

Everything that is wrong is told at once, each with its line, what was found and what would do; a key that is not known is a
mistake, so that a slip of the pen is never silently ignored. `evenhand new` writes the [example below](#an-example)."""

MARGINS = """\
A measure that is compared as a ratio has its margin as a percentage in quotes, one that is compared as a difference as a
plain number in its own unit. The usual margins are in the [table of measures](measures.md)."""

SETUPS = """\
With factors and no listed setups, every combination of levels is a setup: its name joins the names of the levels by hyphens
(`5200-45W`), its label their labels by commas. Listed setups replace all of these."""


def text() -> str:
    """The page below its title."""
    parts = [INTRODUCTION]
    for table in TABLES.values():
        often = "required, " if table.required else ""
        often += "may be repeated" if table.many else "once"
        parts.append(f"## `{table.header}`\n\n{table.help} ({often})")
        parts += {"margins": [MARGINS], "setup": [SETUPS]}.get(table.name, [])
        rows = [_row(key) for key in SCHEMA[table.name].values()]
        parts.append(
            "\n".join(("| key | what it says | allowed | without it | for example |", "| --- | --- | --- | --- | --- |", *rows))
        )
    parts.append(f"## An example\n\n```toml\n{starter_text().strip()}\n```")
    return "\n\n".join(parts)


def _row(key: Key) -> str:
    cells = (f"`{key.name}`", key.help, _allowed(key), "**required**" if key.default is None else key.default, f"`{key.example}`")
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _allowed(key: Key) -> str:
    if key.choices:
        words = ", ".join(f"`{choice}`" for choice in key.choices)
        return words if key.kind.value.startswith("one") else f"a list of: {words}"
    return f"{key.kind.value} {key.allowed}" if key.allowed else key.kind.value
