"""What of a study is its protocol, as a text that can be sealed: all that study.toml says but labels, notes, facts of the PC and
where tables lie.

The text is TOML, in one order whatever the order of study.toml, so that the same protocol always has the same SHA-256. A key that
a later version adds is no change as long as it keeps its default.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import MISSING, Field, fields
from enum import Enum
from typing import Any, Final

from evenhand.study.model import Change, Study
from evenhand.study.schema import RATIO_MEASURES
from evenhand.study.values import percent_text
from evenhand.study.write import key_text, value_text

#: Part of a study ("title night-ferry") -> what is fixed of it, in words.
Parts = Mapping[str, Mapping[str, str]]

HEAD: Final = "# Protocol of a study, form 1. Whoever has this text and its SHA-256 can check that it was not changed.\n"
#: Fields that are no protocol: what things are called, remarks, and what stands in parts of its own.
_LEFT_OUT: Final = frozenset(
    {
        "name",
        "label",
        "notes",
        "bench",
        "inputs",
        "costs",
        "minutes",
        "install_gb",
        "settings_files",
        "setups",
        "titles",
        "factors",
        "margins",
        "protocol",
        "scenes",
    }
)


def protocol_text(study: Study) -> str:
    """The protocol of a study as canonical TOML. margins : those that the study holds are taken as they are."""
    parts = {name: values for name, (values, _) in _parts(study).items()}
    tables = (_table(name, parts[name]) for name in sorted(parts))
    return HEAD + "".join(tables)


def seal_of(text: str) -> str:
    """SHA-256 of the text as UTF-8, in hexadecimal."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def changes(sealed: str, now: str, study: Study) -> tuple[Change, ...]:
    """What differs between two sealed texts, part by part; scenes and levels go with their title or factor. A key that only `now`
    has is no change where it holds what `study` would have without a word.
    """
    before, after = _parsed(sealed), _parsed(now)
    usual = {part: default for part, (_, default) in _parts(study).items()}
    found: list[Change] = []
    for part in sorted(before.keys() | after.keys()):
        if part in before and part in after:
            found += _differing(part, before[part], after[part], usual.get(part, {}))
        elif _owner(part) in before.keys() & after.keys():
            found.append(Change(part, "", _said(before.get(part)), _said(after.get(part))))
    return tuple(found)


def _differing(part: str, before: Mapping[str, str], now: Mapping[str, str], usual: Mapping[str, str]) -> Iterator[Change]:
    for key in sorted(before.keys() | now.keys()):
        old, new = before.get(key), now.get(key)
        if old != new and not (old is None and new == usual.get(key)):
            yield Change(part, key, old, new)


def _owner(part: str) -> str:
    """The part that a scene or level belongs to; others belong to the study."""
    kind, _, name = part.partition(" ")
    owner = {"scene": "title", "level": "factor"}.get(kind)
    return f"{owner} {name.partition('/')[0]}" if owner else "study"


def _said(values: Mapping[str, str] | None) -> str | None:
    return None if values is None else ", ".join(f"{key} {value}" for key, value in values.items())


def _parsed(text: str) -> dict[str, dict[str, str]]:
    return {part: {key: str(value) for key, value in values.items()} for part, values in tomllib.loads(text).items()}


def _table(name: str, values: Mapping[str, str]) -> str:
    lines = [f"{key_text(key)} = {value_text(values[key])}" for key in sorted(values)]
    return "\n".join(("", f"[{key_text(name)}]", *lines, ""))


def _parts(study: Study) -> dict[str, tuple[dict[str, str], dict[str, str]]]:
    """Part -> (what is fixed of it, what a new study without a word about it would have)."""
    margins = {key: percent_text(value) if key in RATIO_MEASURES else _words(value) for key, value in study.margins.items()}
    found = {"study": _values(study), "protocol": _values(study.protocol), "margins": (margins, {})}
    for factor in study.factors:
        levels = ", ".join(level.name for level in factor.levels)
        values, usual = _values(factor)
        found[f"factor {factor.name}"] = ({**values, "levels": levels}, usual)
        found |= {f"level {factor.name}/{level.name}": _values(level) for level in factor.levels}
    found |= {f"setup {setup.name}": _values(setup) for setup in study.setups}
    for title in study.titles:
        found[f"title {title.name}"] = _values(title)
        found |= {f"scene {title.name}/{scene.name}": _values(scene) for scene in title.scenes}
    return found


def _values(thing: Any) -> tuple[dict[str, str], dict[str, str]]:
    """The fields of a noun that are protocol and say something, in words, and the defaults of those that have one."""
    kept = [field for field in fields(thing) if field.name not in _LEFT_OUT]
    values = {field.name: _words(getattr(thing, field.name), field.name) for field in kept}
    usual = {field.name: _words(_default(field), field.name) for field in kept}
    return {k: v for k, v in values.items() if v}, {k: v for k, v in usual.items() if v}


def _default(field: Field[Any]) -> Any:
    if field.default is not MISSING:
        return field.default
    return field.default_factory() if field.default_factory is not MISSING else None


def _words(value: Any, key: str = "") -> str:
    """A value in words; empty where there is nothing."""
    if value is None or value == () or value == {}:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return str(value.value)
    if key == "stop_at":
        return percent_text(value)
    if isinstance(value, float):
        return f"{value:.12g}"
    if isinstance(value, Mapping):
        return ", ".join(f"{k} {_words(v)}" for k, v in sorted(value.items()))
    if isinstance(value, tuple):
        return ", ".join(sorted(map(_words, value)) if key in ("set_aside", "marks") else map(_words, value))
    if hasattr(value, "__dataclass_fields__"):
        return ", ".join(f"{f.name} {_words(getattr(value, f.name))}" for f in fields(value) if _words(getattr(value, f.name)))
    return str(value)
