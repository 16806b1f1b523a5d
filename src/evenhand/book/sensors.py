"""What the ledger remembers of sensor logs; the logs are kept in originals/ like frame logs."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evenhand import __version__
from evenhand.book import ledger
from evenhand.book.connection import Connection, now
from evenhand.book.durable import make_folder, told
from evenhand.book.originals import Originals
from evenhand.frames.model import Sensor, SensorMapping


@dataclass(frozen=True, slots=True)
class SensorRun:
    """Where a run lies in a sensor log. begins : when its recording began, in seconds of the log's own times.

    unsure_s : how far that may be off. how : by what it was lined up, for people.
    """

    run_id: int
    sha256: str
    source: str
    shape: str
    begins: float
    unsure_s: float
    how: str


class SensorRecords:
    """The part of a book that holds sensor logs: `Book.sensors`. Nothing is changed or deleted."""

    def __init__(self, connection: Connection, originals: Originals) -> None:
        self._ledger, self._originals = connection, originals

    def keep(self, log: bytes) -> str:
        """Keep a sensor log; its SHA-256. Raises BookError."""
        with told(self._originals.folder.parent):
            make_folder(self._originals.folder)
            return self._originals.put(log)

    def line_up(self, runs: Sequence[SensorRun], size: int) -> int:
        """Put on record where runs lie in a log of `size` bytes that is kept; how many of them were not there just so."""
        with self._ledger.writing():
            there = self.by_run()
            new = [run for run in runs if there.get(run.run_id) != run]
            for run in new:
                ledger.add_log(self._ledger, run.sha256, size)
                what = {"run_id": run.run_id, "sha256": run.sha256, "source": run.source, "shape": run.shape}
                where = {"begins": run.begins, "unsure_s": run.unsure_s, "how": run.how}
                self._ledger.insert("sensor_runs", **what, **where, at=now(), by_version=__version__)
            if new:
                ledger.add_event(self._ledger, "sensors", f"{runs[0].source}: sensors of {len(new)} runs")
        return len(new)

    def by_run(self) -> Mapping[int, SensorRun]:
        """Where each run lies that has a sensor log, by the run's number."""
        rows = self._ledger.rows("SELECT run_id, sha256, source, shape, begins, unsure_s, how FROM sensor_runs ORDER BY id")
        return {row[0]: SensorRun(*row) for row in rows}

    def remember(self, mapping: SensorMapping) -> None:
        """Settle which column is what, unless it is settled so already."""
        if self.mappings().get(mapping.shape) == mapping:
            return
        columns = json.dumps({str(sensor): column for sensor, column in mapping.columns.items()}, ensure_ascii=False)
        with self._ledger.writing():
            values = {"shape": mapping.shape, "time_column": mapping.time, "columns": columns}
            self._ledger.insert("sensor_mappings", **values, at=now(), by_version=__version__)
            told_columns = ", ".join(f"{column} is {sensor}" for sensor, column in mapping.columns.items())
            ledger.add_event(self._ledger, "sensors", f"columns of sensor logs: {told_columns}")

    def mappings(self) -> Mapping[str, SensorMapping]:
        """What was settled, by the layout's shape."""
        rows = self._ledger.rows("SELECT shape, time_column, columns FROM sensor_mappings ORDER BY id")
        return {
            shape: SensorMapping(shape, time, {Sensor(sensor): column for sensor, column in json.loads(columns).items()})
            for shape, time, columns in rows
        }
