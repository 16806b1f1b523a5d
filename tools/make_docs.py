"""Write the pages of docs/ that are made from catalogues, schemas and help texts.

python tools/make_docs.py            write them
python tools/make_docs.py --check    fail when a page is not what it would be
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Final

import chart_gallery
import house
import study_folder
import study_keys
from typer.main import get_command
from typer.testing import CliRunner

from evenhand import errors
from evenhand.bench.catalogue import FACTS
from evenhand.cli.app import app
from evenhand.measures.catalogue import CATALOGUE
from evenhand.measures.model import Scale
from evenhand.screening.catalogue import CHECKS
from evenhand.steps import documents

DOCS: Final = house.ROOT / "docs"
HELP_WIDTH: Final = 100
#: Stands on every generated page; a page that has it but is not made any more is removed.
NOTE: Final = "<!-- Made by `python dev.py docs`; edit what it is made from, not this page. -->"


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table in Markdown; bars in cells are escaped."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(cell.replace("|", "\\|") for cell in line) + " |" for line in lines) + "\n"


def page(title: str, *parts: str) -> str:
    """A generated page, with a word on where it comes from."""
    return "\n\n".join((NOTE, f"# {title}", *(part.strip("\n") for part in parts))) + "\n"


def measures_page() -> str:
    """docs/reference/measures.md."""
    rows = (
        (f"`{m.key}`", m.label, m.unit, m.better.value, m.scale.value, _margin(m.margin, m.scale, m.unit), m.help, m.source)
        for m in CATALOGUE.values()
    )
    return page(
        "Measures",
        "Every number that is computed from the frames of a run. On the *logarithm* scale setups are compared as ratios, on the "
        "*difference* scale as differences. The margin is the smallest difference that matters to a player; a study may set its "
        "own. How each is computed, and its limits: [methods](../methods/README.md).",
        table(("key", "name", "unit", "better", "scale", "default margin", "what it is", "source"), rows),
    )


def _margin(margin: float, scale: Scale, unit: str) -> str:
    return f"{margin * 100:g} %" if scale is Scale.LOG else f"{margin:g} {unit}"


def checks_page() -> str:
    """docs/reference/checks.md."""
    rows = ((f"`{c.slug}`", c.label, c.looks_for, f"{c.threshold:g}", c.why, c.advice) for c in CHECKS.values())
    return page(
        "Screening checks",
        "A check never removes a run. It proposes a standing; a person, or the study's stated rule (`set_aside` in its "
        "protocol), decides. How often the checks are right: [screening](../methods/screening.md).",
        table(("check", "name", "what it looks for", "default threshold", "where that comes from", "what to do"), rows),
    )


def bench_facts_page() -> str:
    """docs/reference/bench-facts.md."""
    rows = (
        (f"`{f.key}`", f.label, f.group.value.lower(), f.sort.value, f.unit or "–", f.grade.value, f.help) for f in FACTS.values()
    )
    return page(
        "Facts of a PC",
        "What a snapshot may hold. A level of a factor names them under `expects` and `goes_with`, and `[study.bench]` may state "
        "what cannot be read. A change that no factor explains *blocks* (it makes results stale), is *note*d, or is *noise*. "
        "A fact that could not be read on one side is noted at most. How to use them: "
        "[prove a setup](../howto/prove-a-setup.md).",
        table(("key", "name", "about", "is", "unit", "a change", "what it is"), rows),
    )


def charts_page() -> str:
    """docs/reference/charts.md."""
    return page("Charts", *chart_gallery.page_parts())


def study_folder_page() -> str:
    """docs/reference/study-folder.md."""
    return page("The study folder", study_folder.text())


def study_keys_page() -> str:
    """docs/reference/study-toml.md."""
    return page("study.toml", study_keys.text())


def messages_page() -> str:
    """docs/messages.md: sections as the comments in errors.py group them."""
    parts = ["Every deliberate failure ends with its name in square brackets, and a line that says what to do."]
    source = Path(errors.__file__).read_text(encoding="utf-8").partition("FAILURES:")[2]
    for line in source.splitlines():
        if heading := re.match(r" {4}# (.+)", line):
            words = heading[1]
            parts.append(f"## {words if '.' in words else words[0].upper() + words[1:]}")
        elif slug := re.match(r' {4}"([a-z0-9-]+)":', line):
            text = errors.FAILURES[slug[1]]
            parts.append(f"### {slug[1]}\n\n{text[0].upper()}{text[1:]}.")
    return page("Messages", *parts)


def command_pages() -> dict[str, str]:
    """docs/commands/: one page for each command, from its own help."""
    commands = get_command(app).commands  # type: ignore[attr-defined]
    made = {f"commands/{name}.md": command_page(name) for name in commands}
    rows = ((f"[{name}]({name}.md)", command.help.split("\n\n")[0].replace("\n", " ")) for name, command in commands.items())
    made["commands/README.md"] = page("Commands", table(("command", "what it does"), rows))
    return made


def command_page(name: str) -> str:
    """What a command does, an example, and its options as the terminal shows them."""
    shown = CliRunner().invoke(app, [name, "--help"], prog_name="evenhand", terminal_width=HELP_WIDTH).output
    usage, _, rest = shown.partition("\n\n")
    options = rest[match.start() :] if (match := re.search(r"^(Arguments|Options):", rest, re.MULTILINE)) else ""
    said = get_command(app).commands[name].help  # type: ignore[attr-defined]
    words, _, example = said.partition("Example:")
    call = f"```\n{example.strip()}\n```"
    return page(f"evenhand {name}", words, "Example:", call, f"```text\n{usage.strip()}\n\n{options.strip()}\n```")


def json_pages() -> dict[str, str]:
    """docs/reference/json/: the schema of what each command prints with --json."""
    made = {}
    rows = []
    for name, document in documents.DOCUMENTS.items():
        made[f"reference/json/{name}.schema.json"] = json.dumps(documents.schema(name), indent=2, ensure_ascii=False) + "\n"
        first = (document.__doc__ or "").strip().splitlines()[0]
        rows.append((f"[{name}.schema.json]({name}.schema.json)", first))
    made["reference/json/README.md"] = page(
        "What `--json` prints",
        "Each document names its form and the version that wrote it. Fields are only ever added within a form; a change that "
        "could break a reader gets a new form. A number that does not exist (no degrees of freedom) is null. "
        "The schemas are JSON Schema, draft 2020-12.",
        table(("schema", "of"), rows),
    )
    return made


def layers_table() -> str:
    """The table of allowed imports and libraries, as the contract holds it."""
    rows = (
        (f"`{room}`", ", ".join(f"`{t}`" for t in targets) or "nothing", ", ".join(house.LIBRARIES.get(room, ())) or "–")
        for room, targets in house.LAYERS.items()
    )
    return table(("room", "may import", "libraries"), rows)


def methods_index() -> str:
    """docs/methods/README.md: every page of the folder with its own first sentence."""
    rows = []
    for path in sorted((DOCS / "methods").glob("*.md")):
        lines = [line for line in path.read_text(encoding="utf-8").splitlines() if line and not line.startswith("<!--")]
        if path.stem != "README":
            rows.append((f"[{lines[0].lstrip('# ')}]({path.name})", re.split(r"(?<=[.:]) ", lines[1].lstrip("# "))[0]))
    said = "One page for each method: its formula, where it comes from, what it cannot do, and the test that holds it."
    return page("Methods", said, table(("method", "in a sentence"), rows))


def architecture_page() -> str:
    """docs/architecture.md as it stands, with the generated table put between its marks."""
    text = (DOCS / "architecture.md").read_text(encoding="utf-8")
    begin, end = "<!-- table: begin -->\n", "<!-- table: end -->"
    head, _, rest = text.partition(begin)
    return head + begin + layers_table() + end + rest.partition(end)[2]


SINGLE: Final[dict[str, Callable[[], str]]] = {
    "reference/measures.md": measures_page,
    "reference/checks.md": checks_page,
    "reference/bench-facts.md": bench_facts_page,
    "reference/charts.md": charts_page,
    "reference/study-folder.md": study_folder_page,
    "reference/study-toml.md": study_keys_page,
    "messages.md": messages_page,
    "methods/README.md": methods_index,
    "architecture.md": architecture_page,
}


def pages() -> dict[Path, str]:
    """Every generated page with the text it should have."""
    made = {name: make() for name, make in SINGLE.items()} | command_pages() | json_pages()
    return {DOCS / name: text for name, text in made.items()}


def leftovers(wanted: Iterable[Path]) -> list[Path]:
    """Generated pages that nothing makes any more."""
    there = {path for path in DOCS.rglob("*.md") if path.read_text(encoding="utf-8").startswith(NOTE)}
    return sorted(there - set(wanted))


def stale() -> list[str]:
    """Pages that are missing, out of date or left over."""
    made = pages()
    changed = [path for path, text in made.items() if not path.exists() or path.read_text(encoding="utf-8") != text]
    return [path.relative_to(house.ROOT).as_posix() for path in (*changed, *leftovers(made))]


def write() -> None:
    """Write all pages, remove what is left over."""
    made = pages()
    for path in leftovers(made):
        path.unlink()
    for path, text in made.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    if sys.argv[1:] == ["--check"]:
        if old := stale():
            sys.exit("Not up to date (run: python dev.py docs): " + ", ".join(old))
    else:
        write()
