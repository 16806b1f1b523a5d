"""The bench and the protocol: what the PC was, and how it was recorded."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evenhand import wording
from evenhand.frames.model import Stretch
from evenhand.measures.catalogue import CATALOGUE
from evenhand.study.model import Pace
from evenhand.units import duration_words, percent
from evenhand.writeup import sentences
from evenhand.writeup.bench_words import in_full
from evenhand.writeup.material import Material
from evenhand.writeup.model import Column, Section, Table
from evenhand.writeup.sections.naming import measure_name

ON_TRUST: Final = (
    "No snapshot of the bench confirmed that the PC was set as the labels say. A run under a wrong setup would look like a "
    "difference between setups."
)


def bench(material: Material) -> Section:
    """What is known of the PC, and whether the setups are proven."""
    facts = tuple({**material.bench, **material.proof.facts}.items())
    tables = (Table(("fact", "value"), facts, columns=(Column.NAME, Column.WORDS)),) if facts else ()
    text = () if facts else ("Nothing else is on record about the bench.",)
    counting = [r for r in material.runs if r.counts]
    unproven = sum(not r.proven for r in counting)
    if unproven == len(counting):
        heading, text = "Setups unproven: labels taken on trust", (ON_TRUST, *text)
    elif unproven:
        heading = f"{unproven} of {wording.counted(len(counting), 'run')} are unproven: no snapshot confirmed their setup"
    else:
        heading = "A snapshot confirmed the setup of every run"
    parts = (_setups(material), *_snapshots(material))
    return Section("bench", heading, label="bench", paragraphs=text, tables=tables, parts=parts)


def _snapshots(material: Material) -> tuple[Section, ...]:
    """What snapshots say of the visits; nothing where there is none."""
    seen = any(v.snapshots for v in material.proof.visits)
    return in_full(material.study, material.proof) if seen else ()


def _setups(material: Material) -> Section:
    study = material.study
    factors = study.factors
    rows = []
    for s in study.setups:
        levels = {f.name: {level.name: level.label for level in f.levels} for f in factors}
        rows.append(
            (
                s.label,
                *(levels[f.name].get(s.levels.get(f.name, ""), "–") for f in factors),
                "baseline" if s.name == study.baseline else "",
            )
        )
    table = Table(
        head=("setup", *(f.label for f in factors), ""),
        rows=tuple(rows),
        columns=(Column.NAME, *(Column.WORDS for _ in factors), Column.WORDS),
        looks=tuple(range(len(rows))),
    )
    return Section(
        "setups",
        f"{wording.counted(len(study.setups), 'setup')}, compared with {material.setup_label(study.baseline)}",
        tables=(table,),
    )


def protocol(material: Material) -> Section:
    """How the study was set up to be recorded, and what counts of each scene."""
    study = material.study
    p = study.protocol
    asked = f"{wording.counted(p.visits, 'visit')} a setup, {wording.counted(p.runs, 'run')} of each scene in a visit"
    items = [f"Planned: {asked}."]
    if p.looks:
        items.append(f"Looks planned at {wording.listed([str(n) for n in p.looks])} visits; error spent like {p.spending.value}.")
    if p.stop_at is not None:
        items.append(f"Recording stops once the average over titles is known to ± {percent(100 * p.stop_at, 1)}.")
    if p.warmup_runs:
        verb = "counts" if p.warmup_runs == 1 else "count"
        items.append(f"The first {wording.counted(p.warmup_runs, 'run')} of each scene in a visit never {verb}.")
    items += _played(material)
    here = " at this look" if p.looks else ""
    items.append(f"Rounds: {'a block of the analysis' if material.average.rounds_used else 'not a term of the analysis'}.")
    items.append(
        f"Set aside by rule: {wording.listed(p.set_aside)}." if p.set_aside else "No run is set aside by rule; a person decides."
    )
    margins = [f"{sentences.margin_words(m.measure, m.margin)} for {measure_name(m.measure)}" for m in material.leading]
    items.append(f"Smallest difference that matters: {wording.listed(margins)}. Confidence {study.confidence * 100:g} %{here}.")
    low = CATALOGUE.get(material.low)
    items += [f"The study's low: {low.label}. {low.help}"] if low else []
    items.append(f"Interval of the logs: {_interval(study.interval.value)}.")
    items += [p.notes] if p.notes else []
    return Section("protocol", f"The protocol asks for {asked}", label="protocol", items=tuple(items), parts=_stretches(material))


def _played(material: Material) -> Iterator[str]:
    """How a person plays scenes, and which of their runs are practice."""
    for title in material.study.titles:
        for scene in title.scenes:
            place = _scene(material, f"{title.name}/{scene.name}")
            if scene.practice_runs is not None:
                verb = "never counts" if scene.practice_runs == 1 else "never count"
                yield f"{place}: the first {wording.counted(scene.practice_runs, 'run')} in a visit {verb}: practice."
            if scene.route:
                yield f"{place}, played by a person: {scene.route}"


def _interval(meaning: str) -> str:
    words = {"present": "from one present to the next", "shown": "from one frame shown to the next"}
    return words.get(meaning, "the study does not state whether from present to present or from shown to shown")


def _stretches(material: Material) -> tuple[Section, ...]:
    if not material.stretches:
        return ()
    rows = tuple((_scene(material, s.scene), _counted(s), s.why, s.decided_by) for s in material.stretches)
    table = Table(
        ("scene", "what counts", "why", "decided by"), rows, columns=(Column.NAME, Column.WORDS, Column.WORDS, Column.WORDS)
    )
    return (Section("stretches", "The same stretch of a scene counts in every run", tables=(table,), folded=True),)


def _counted(stretch: Stretch) -> str:
    frames = stretch.pace == Pace.FRAMES

    def size(value: float) -> str:
        return wording.counted(round(value), "frame") if frames else duration_words(value)

    start = f"from {size(stretch.skip)} after the start of the scene" if stretch.skip else "from the start of the scene"
    return f"{start}, {size(stretch.length)}" if stretch.length else f"{start} to the end"


def _scene(material: Material, name: str) -> str:
    title, _, scene = name.partition("/")
    scenes = {s.name: s.label for t in material.study.titles if t.name == title for s in t.scenes}
    label = material.title_label(title)
    return label if scenes.get(scene, scene) in (label, "") else f"{label}, {scenes.get(scene, scene)}"
