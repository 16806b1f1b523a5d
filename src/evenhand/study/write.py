"""A `Study` as the text of study.toml, which reads back equal."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Final

from evenhand.study.lines import BARE_KEY
from evenhand.study.model import Apply, Costs, Factor, Level, Protocol, Scene, Setup, Spending, Stated, Study, Title
from evenhand.study.schema import RATIO_MEASURES, SCHEMA, TABLES
from evenhand.study.setups import MOST, all_setups, combinations, default_label
from evenhand.study.values import percent_text

Value = str | float | bool | tuple[str | int, ...] | Mapping[str, str | float | bool] | None

_ESCAPES: Final = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r", "\b": "\\b", "\f": "\\f"}


def study_text(study: Study, comments: bool = True) -> str:
    """Valid TOML that `parse_study` reads back as an equal study. comments : with a line of help above tables and keys."""
    page = _Page(comments)
    head = {key: getattr(study, key) for key in SCHEMA["study"] if key != "bench"}
    page.table("study", head | {"exploratory": study.exploratory or None})
    page.facts("study.bench", SCHEMA["study"]["bench"].help, study.bench)
    if study.margins:
        page.table("margins", {key: percent_text(m) if key in RATIO_MEASURES else m for key, m in study.margins.items()})
    for name, values in (("weights", study.weights), ("inputs", study.inputs)):
        if values:
            page.table(name, values)
    for factor in study.factors:
        page.table("factor", {"name": factor.name, "label": _unless(factor.label, factor.name), "apply": _apply(factor)})
        for level in factor.levels:
            page.table("factor.level", _level(level))
    for setup in _listed(study):
        page.table("setup", _setup(setup, study.factors))
    for title in study.titles:
        _title(page, title)
    if costs := _costs(study.costs):
        page.table("costs", costs)
    page.table("protocol", _protocol(study.protocol))
    return page.text()


class _Page:
    """Lines so far; help is written the first time a table or key appears."""

    def __init__(self, comments: bool) -> None:
        self.comments = comments
        self.lines: list[str] = []
        self.told: set[str] = set()

    def text(self) -> str:
        return "\n".join(self.lines) + "\n"

    def table(self, name: str, values: Mapping[str, Value]) -> None:
        if self.lines:
            self.lines.append("")
        table = TABLES[name]
        first = name not in self.told
        self.told.add(name)
        if self.comments and first:
            self.lines.append(f"# {table.help}")
        self.lines.append(table.header)
        for key, value in values.items():
            if value is None:
                continue
            line = f"{key_text(key)} = {value_text(value)}"
            help_text = SCHEMA[name][key].help if self.comments and first and name in ("study", "protocol") else ""
            self.lines.append(f"{line}  # {help_text}" if help_text else line)

    def facts(self, name: str, help_text: str, values: Mapping[str, str]) -> None:
        """A table whose keys are the person's own."""
        if values:
            comment = [f"# {help_text}"] if self.comments else []
            self.lines += ["", *comment, f"[{name}]", *(f"{key_text(k)} = {value_text(v)}" for k, v in values.items())]


def _unless(text: str, default: str) -> str | None:
    return None if text == default else text


def _level(level: Level) -> dict[str, Value]:
    return {
        "name": level.name,
        "label": _unless(level.label, level.name),
        "value": level.value,
        "expects": level.expects or None,
        "gives_up": _stated(level.gives_up),
        "brings": _stated(level.brings),
        "goes_with": level.goes_with or None,
    }


def _apply(factor: Factor) -> str | None:
    return None if factor.apply is Apply.FIRMWARE else factor.apply.value


def _stated(stated: Stated | None) -> Value:
    """As short as it can be: words alone where there is no number."""
    if stated is None:
        return None
    return {"words": stated.words, **stated.numbers} if stated.numbers else stated.words


def _listed(study: Study) -> tuple[Setup, ...]:
    """The setups that must be written: none where they are just all combinations."""
    if study.factors and combinations(study.factors) <= MOST and study.setups == all_setups(study.factors):
        return ()
    return study.setups


def _setup(setup: Setup, factors: Iterable[Factor]) -> dict[str, Value]:
    levels = [level for factor in factors for level in factor.levels if setup.levels.get(factor.name) == level.name]
    return {
        "name": setup.name,
        "label": _unless(setup.label, default_label(setup.name, levels)),
        "levels": setup.levels or None,
        "gives_up": _stated(setup.gives_up),
        "brings": _stated(setup.brings),
        "minutes": setup.minutes,
    }


def _title(page: _Page, title: Title) -> None:
    given: dict[str, Value] = {
        "name": title.name,
        "label": _unless(title.label, title.name),
        "weight": None if title.weight == 1 else title.weight,
        "minutes": title.minutes,
        "install_gb": title.install_gb,
        "build": title.build or None,
        "settings_files": title.settings_files or None,
        "score": title.score,
    }
    page.table("title", given)
    if title.scenes == (Scene(title.name, title.label),):
        return
    for scene in title.scenes:
        page.table("title.scene", _scene(scene))


def _scene(scene: Scene) -> dict[str, Value]:
    return {
        "name": scene.name,
        "label": _unless(scene.label, scene.name),
        "seconds": scene.seconds,
        "pace": scene.pace.value,
        "settings": scene.settings or None,
        "cap": scene.cap,
        "sync": scene.sync,
        "marks": scene.marks or None,
        "route": scene.route or None,
        "practice_runs": scene.practice_runs,
    }


def _costs(costs: Costs) -> dict[str, Value]:
    usual = Costs()
    return {key: value for key in SCHEMA["costs"] if (value := getattr(costs, key)) != getattr(usual, key)}


def _protocol(protocol: Protocol) -> dict[str, Value]:
    given = {key: getattr(protocol, key) for key in SCHEMA["protocol"]}
    given |= {key: given[key] or None for key in ("notes", "set_aside", "looks")}
    given["spending"] = protocol.spending if protocol.looks or protocol.spending is not Spending.OBRIEN_FLEMING else None
    given["stop_at"] = None if protocol.stop_at is None else percent_text(protocol.stop_at)
    return given


def key_text(key: str) -> str:
    """A key, quoted where it must be."""
    return key if BARE_KEY.fullmatch(key) else value_text(key)


def value_text(value: str | float | bool | tuple[str | int, ...] | Mapping[str, str | float | bool]) -> str:
    """A value as TOML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + "".join(_ESCAPES.get(c) or (f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else c) for c in value) + '"'
    if isinstance(value, tuple):
        return f"[{', '.join(value_text(item) for item in value)}]"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key_text(k)} = {value_text(v)}" for k, v in value.items()) + " }"
    return str(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(float(value))
