"""The plan that a book keeps: stored as JSON, the latest counts."""

from __future__ import annotations

import msgspec

from evenhand.book.book import Book
from evenhand.planning.model import Plan
from evenhand.study.model import Study


def kept_plan(book: Book) -> Plan | None:
    """The plan that counts; None where there is none, or one that another version kept in a form that this one does not know."""
    plans = book.bench.plans()
    try:
        return msgspec.json.decode(plans[-1].text, type=Plan) if plans else None
    except msgspec.DecodeError:
        return None


def keep_plan(book: Book, plan: Plan, why: str = "") -> Plan:
    """Keep a plan that counts from now on, unless it does already. Returns it."""
    before = kept_plan(book)
    if plan != before:
        book.bench.add_plan(plan.seed, msgspec.json.encode(plan).decode("utf-8"), why or ("" if before is None else "on request"))
    return plan


def fits(plan: Plan, study: Study) -> bool:
    """Whether a plan records what the study asks for now: each scene under each setup in every round, with as many runs."""
    planned = {(v.setup, s.title, s.scene, v.round, s.runs) for v in plan.visits for s in v.scenes}
    protocol = study.protocol
    return planned == {
        (setup.name, title.name, scene.name, number, protocol.runs)
        for setup in study.setups
        for title in study.titles
        for scene in title.scenes
        for number in range(1, protocol.visits + 1)
    }
