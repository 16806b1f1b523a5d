"""Drawn SVG made small: what a reader never sees is left out, shared attributes stand once, numbers end at a tenth of a pixel.

A report holds hundreds of charts; as drawn by Vega they are four times as large.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Final
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

_NUMBER: Final = re.compile(r"-?\d*\.\d{2,}")
_CORNERS: Final = re.compile(r"[ML](-?[\d.]+),(-?[\d.]+)")
_POLYLINE: Final = re.compile(r"M-?[\d.]+,-?[\d.]+(?:L-?[\d.]+,-?[\d.]+)*")
_LENGTHS: Final = frozenset({"d", "transform", "x", "y", "x2", "y2", "font-size", "stroke-width", "width", "height"})
_NAMESPACE: Final = re.compile(r"\{[^}]*\}")
_PLACE: Final = re.compile(r"translate\((-?[\d.]+),(-?[\d.]+)\)")
#: Attributes that change nothing in a picture.
_SPARE: Final = frozenset({"aria-roledescription", "aria-hidden", "class", "role", "stroke-miterlimit", "version"})
#: What holds when nothing is said.
_USUAL: Final = {"opacity": "1", "font-style": "normal", "font-weight": "400", "text-anchor": "start", "stroke-linecap": "butt"}
#: Attributes that children inherit (SVG 1.1, property index).
_INHERITED: Final = (
    *("fill", "stroke", "stroke-width", "stroke-linecap", "stroke-linejoin"),
    *("font-family", "font-size", "font-style", "font-weight", "text-anchor"),
)


def compact(drawn: str, layers: Sequence[int]) -> list[str]:
    """The marks of a drawn SVG, small, without its root element and without the ground that Vega lays under them.

    layers : how many layers each of the charts has that were drawn as one, in order; one text for each.
    """
    marks = [e for e in ElementTree.fromstring(drawn).iter() if "role-mark" in e.get("class", "")]
    if len(marks) != sum(layers):
        raise ValueError(f"{len(marks)} groups of marks were drawn, not {sum(layers)}")
    found, start = [], 0
    for count in layers:
        group = Element("g")
        group[:] = marks[start : start + count]
        _bare(group)
        found.append("".join(ElementTree.tostring(e, encoding="unicode") for e in group))
        start += count
    return found


def _bare(element: Element) -> None:
    """Clean an element and everything below it."""
    element.tag = _NAMESPACE.sub("", element.tag)
    for key in list(element.attrib):
        value = element.attrib.pop(key)
        name = _NAMESPACE.sub("", key)
        if name not in _SPARE and _USUAL.get(name) != value:
            element.set(name, _short(name, value))
    for child in list(element):
        _bare(child)
        if _says_nothing(child):
            element.remove(child)
    if element.tag == "g":
        _join_lines(element)
        _hoist(element)
        if len(element) == 1 and not element.attrib and element[0].tag == "g":
            only = element[0]
            element.attrib, element[:] = dict(only.attrib), list(only)


def _short(name: str, value: str) -> str:
    if name == "d" and (corners := _CORNERS.findall(value)) and _POLYLINE.fullmatch(value):
        return _steps([(round(10 * float(x)), round(10 * float(y))) for x, y in corners])
    if name in _LENGTHS:
        return _NUMBER.sub(lambda n: _tenths(round(10 * float(n.group()))), value.removesuffix("px"))
    return value


def _tenths(value: int) -> str:
    """A number of tenths, as short as SVG allows: 5 -> ".5", -120 -> "-12"."""
    sign, whole, rest = "-" * (value < 0), abs(value) // 10, abs(value) % 10
    return f"{sign}{whole or ''}.{rest}" if rest else f"{sign}{whole}" if whole else "0"


def _steps(corners: list[tuple[int, int]]) -> str:
    """A line through corners (in tenths of a pixel), each step from the one before; rounding does not add up."""
    x, y = corners[0]
    parts: list[str] = []
    for to_x, to_y in corners[1:]:
        for step in (to_x - x, to_y - y):
            word = _tenths(step)
            parts.append(word if word.startswith("-") or not parts else f" {word}")
        x, y = to_x, to_y
    return f"M{_tenths(corners[0][0])},{_tenths(corners[0][1])}" + (f"l{''.join(parts)}" if parts else "")


def _says_nothing(element: Element) -> bool:
    if element.tag == "g":
        return len(element) == 0
    if element.tag == "path":
        frame = element.get("fill") is None and element.get("stroke") is None and "transform" not in element.attrib
        return element.get("display") == "none" or (frame and "stroke-width" not in element.attrib)
    return element.tag == "line" and element.get("x2") == "0" and element.get("y2") == "0"


def _join_lines(group: Element) -> None:
    """Neighbouring lines of one look become one path."""
    if len(group) < 2 or any(c.tag != "line" for c in group):
        return
    looks: dict[tuple[tuple[str, str], ...], list[str]] = {}
    for line in group:
        place = _PLACE.search(line.get("transform", "translate(0,0)"))
        x, y = place.groups() if place else ("0", "0")
        look = tuple(sorted((k, v) for k, v in line.attrib.items() if k not in ("transform", "x2", "y2")))
        looks.setdefault(look, []).append(f"M{x},{y}l{line.get('x2', '0')},{line.get('y2', '0')}")
    group[:] = [Element("path", {"d": "".join(parts), **dict(look)}) for look, parts in looks.items()]


def _hoist(group: Element) -> None:
    """Attributes that all children share, stated once on the group."""
    if len(group) < 2:
        return
    for name in _INHERITED:
        if name not in group.attrib and (value := _shared(group, name)) is not None:
            group.set(name, value)
            for child in group:
                del child.attrib[name]


def _shared(group: Iterable[Element], name: str) -> str | None:
    values = {child.get(name) for child in group}
    return values.pop() if len(values) == 1 else None
