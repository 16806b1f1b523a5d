"""What the ledger remembers of the bench: snapshots of the PC, visits and what proves them, waivers, plans, facts of titles."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import Any, Final

from evenhand import __version__
from evenhand.bench.model import Origin, Value, Waiver
from evenhand.book.connection import Connection, now
from evenhand.book.model import PlanRecord, SnapshotRecord, TitleFactRecord, VisitRecord

_SNAPSHOT: Final = "SELECT id, sha256, answers, typed, taken_at, machine, source, at, by_version FROM snapshots"
_VISIT: Final = "SELECT id, setup, visit, snapshot_id, proven, why, tester, began, at, by_version FROM visits"
_FACT: Final = "SELECT id, title, setup, visit, moment, fact, value, origin, source, at, by_version FROM title_facts"


class BenchRecords:
    """The bench's part of a book: `Book.bench`. Every method that adds is one transaction; nothing is changed or deleted."""

    def __init__(self, connection: Connection) -> None:
        self._ledger = connection

    # --- snapshots

    def add_snapshot(
        self, answers: Mapping[str, Any], machine: str, source: str, typed: Mapping[str, str] | None = None
    ) -> tuple[SnapshotRecord, bool]:
        """Keep raw answers of a PC; the record, and whether it is new: the same answers and typed-in facts are kept once."""
        text, stated = _json(answers), _json(dict(typed or {}))
        sha256 = hashlib.sha256(text.encode()).hexdigest()
        with self._ledger.writing():
            found = self._ledger.rows(f"{_SNAPSHOT} WHERE sha256 = ? AND typed = ?", (sha256, stated))
            if found:
                return _snapshot(found[0]), False
            row = self._ledger.insert(
                "snapshots",
                sha256=sha256,
                answers=text,
                typed=stated,
                taken_at=str(answers["taken_at"]),
                machine=machine,
                source=source,
                **_stamp(),
            )
            self._event("snapshot", f"snapshot of a PC, taken {answers['taken_at']}, from {source}")
        return self.snapshot(row), True

    def snapshots(self) -> tuple[SnapshotRecord, ...]:
        """All snapshots, oldest first by the PC's clock."""
        return tuple(_snapshot(row) for row in self._ledger.rows(f"{_SNAPSHOT} ORDER BY taken_at, id"))

    def snapshot(self, number: int) -> SnapshotRecord:
        """The snapshot of that row."""
        return _snapshot(self._ledger.rows(f"{_SNAPSHOT} WHERE id = ?", (number,))[0])

    # --- visits

    def add_visit(
        self, setup: str, visit: int, snapshot: int | None, *, proven: bool, began: str, why: str = "", tester: str = ""
    ) -> VisitRecord:
        """Put on record what a visit is proven by; the latest row counts for all its runs."""
        with self._ledger.writing():
            row = self._ledger.insert(
                "visits",
                setup=setup,
                visit=visit,
                snapshot_id=snapshot,
                proven=int(proven),
                why=why,
                tester=tester,
                began=began,
                **_stamp(),
            )
            said = "proven by a snapshot" if proven else "not proven"
            self._event("visit", f"visit {visit} of {setup}: {said}{f', kept although: {why}' if why else ''}")
        return _visit(self._ledger.rows(f"{_VISIT} WHERE id = ?", (row,))[0])

    def visits(self) -> tuple[VisitRecord, ...]:
        """Every row about every visit, oldest first."""
        return tuple(_visit(row) for row in self._ledger.rows(f"{_VISIT} ORDER BY id"))

    def visit(self, setup: str, visit: int) -> VisitRecord | None:
        """The row that counts of a visit."""
        found = self._ledger.rows(f"{_VISIT} WHERE setup = ? AND visit = ? ORDER BY id DESC LIMIT 1", (setup, visit))
        return _visit(found[0]) if found else None

    # --- changes that do not matter

    def add_waiver(self, waiver: Waiver, *, holds: bool = True) -> None:
        """Keep that a change does not matter, or (holds = False) that it matters again."""
        with self._ledger.writing():
            self._ledger.insert(
                "waivers",
                fact=waiver.fact,
                value_before=json.dumps(waiver.before),
                value_after=json.dumps(waiver.after),
                holds=int(holds),
                why=waiver.why,
                decided_by=waiver.by,
                **_stamp(),
            )
            said = "does not matter" if holds else "matters again"
            self._event("waiver", f"change of {waiver.fact} {said}, decided by {waiver.by}: {waiver.why}")

    def waivers(self) -> tuple[Waiver, ...]:
        """The waivers that hold, oldest first."""
        held: dict[tuple[str, frozenset[Value | None]], Waiver] = {}
        what = "fact, value_before, value_after, holds, why, decided_by, at"
        for fact, before, after, holds, why, by, at in self._ledger.rows(f"SELECT {what} FROM waivers ORDER BY id"):
            one = Waiver(fact, json.loads(before), json.loads(after), why, by, at)
            held.pop((fact, frozenset((one.before, one.after))), None)
            if holds:
                held[fact, frozenset((one.before, one.after))] = one
        return tuple(held.values())

    # --- plans and facts of titles

    def add_plan(self, seed: int, text: str, why: str = "") -> PlanRecord:
        """Keep a plan (as JSON) that counts from now on."""
        with self._ledger.writing():
            self._ledger.insert("plans", seed=seed, plan=text, why=why, **_stamp())
            self._event("plan", f"visits planned{' anew' if why else ''} with seed {seed}{f': {why}' if why else ''}")
        return self.plans()[-1]

    def plans(self) -> tuple[PlanRecord, ...]:
        """Every plan, oldest first."""
        return tuple(
            PlanRecord(*row) for row in self._ledger.rows("SELECT id, seed, plan, why, at, by_version FROM plans ORDER BY id")
        )

    def add_title_fact(
        self,
        title: str,
        fact: str,
        value: str,
        origin: Origin,
        moment: str,
        *,
        visit: tuple[str, int] | None = None,
        source: str = "",
    ) -> None:
        """Keep what a title was at a moment; visit : (setup, number) that it was found in."""
        setup, number = visit or (None, None)
        told = {"title": title, "setup": setup, "visit": number, "moment": moment, "fact": fact, "value": value}
        with self._ledger.writing():
            self._ledger.insert("title_facts", **told, origin=str(origin), source=source, **_stamp())

    def title_facts(self) -> tuple[TitleFactRecord, ...]:
        """Every fact of every title, oldest first."""
        return tuple(_fact(row) for row in self._ledger.rows(f"{_FACT} ORDER BY id"))

    def _event(self, kind: str, text: str) -> None:
        self._ledger.insert("events", kind=kind, text=text, **_stamp())


def _stamp() -> dict[str, str]:
    return {"at": now(), "by_version": __version__}


def _json(value: object) -> str:
    return json.dumps(value, sort_keys=True, ensure_ascii=False)


def _snapshot(row: Sequence[Any]) -> SnapshotRecord:
    number, sha256, answers, typed, *rest = row
    return SnapshotRecord(number, sha256, answers, json.loads(typed), *rest)


def _visit(row: Sequence[Any]) -> VisitRecord:
    number, setup, visit, snapshot, proven, *rest = row
    return VisitRecord(number, setup, visit, snapshot, bool(proven), *rest)


def _fact(row: Sequence[Any]) -> TitleFactRecord:
    number, title, setup, visit, moment, fact, value, origin, *rest = row
    return TitleFactRecord(number, title, setup, visit, moment, fact, value, Origin(origin), *rest)
