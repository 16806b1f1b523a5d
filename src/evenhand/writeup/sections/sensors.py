"""What sensor logs say of the runs: power, energy of a frame, temperatures and clocks, what may have slowed a run."""

from __future__ import annotations

from evenhand import wording
from evenhand.frames.model import Sensor
from evenhand.units import number
from evenhand.writeup.material import Material, RunEntry
from evenhand.writeup.model import Column, Section, Table
from evenhand.writeup.sections.naming import run_name

HEADS = (
    "run",
    "power, W",
    "J a frame",
    "frames a J",
    "temperature, °C",
    "clock, MHz",
    "load, %",
    "graphics load, %",
    "lined up by",
)
LEAD = (
    "Means are over the frames that count, ranges the least and most of single samples. The energy of a frame is judged like any "
    "other measure, over the visits."
)


def sensors(material: Material) -> Section | None:
    """None where no run has a sensor log."""
    seen = [r for r in material.runs if r.sensors]
    if not seen:
        return None
    out = [f"{run_name(material, r.key)}: {said}" for r in seen for said in r.remarks]
    verb = "stands" if len(out) == 1 else "stand"
    heading = f"Sensors ran along in {wording.counted(len(seen), 'run')}; {len(out) or 'none'} {verb} out"
    every = Section("every-sensor", "Every run's sensors", tables=(_table(material, seen),), folded=True)
    return Section("sensors", heading, label="sensors", lead=LEAD, items=tuple(out), parts=(every,))


def in_brief(material: Material) -> Section | None:
    """What stands out, for a terminal; None where nothing does."""
    out = tuple(f"{r.key}: {said}" for r in material.runs for said in r.remarks)
    return Section("sensors", "What sensors show that may have slowed runs", items=out) if out else None


def _table(material: Material, seen: list[RunEntry]) -> Table:
    order = [s.name for s in material.study.setups]
    figures = (Column.FIGURE,) * (len(HEADS) - 2)
    return Table(
        head=HEADS,
        rows=tuple((run_name(material, r.key), *_cells(r)) for r in seen),
        columns=(Column.NAME, *figures, Column.WORDS),
        looks=tuple(order.index(r.key.setup) if r.key.setup in order else -1 for r in seen),
    )


def _cells(run: RunEntry) -> tuple[str, ...]:
    s = run.sensors
    if s is None:
        return ()
    return (
        _figure(s.power, 1),
        _figure(s.energy, 3),
        _figure(s.frames_per_joule, 3),
        _range(run, Sensor.TEMPERATURE),
        _range(run, Sensor.CLOCK),
        _figure(s.load, 0),
        _figure(s.graphics_load, 0),
        f"{s.how} (± {number(s.unsure_s, 1)} s)",
    )


def _figure(value: float | None, places: int) -> str:
    return "–" if value is None else number(value, places)


def _range(run: RunEntry, sensor: Sensor) -> str:
    ranges = run.sensors.ranges if run.sensors else {}
    if sensor not in ranges:
        return "–"
    low, high = ranges[sensor]
    return f"{number(low, 0)} to {number(high, 0)}"
