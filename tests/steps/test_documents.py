"""Documents for programs: each fits its own schema, decodes into its type, and says null where there is no number."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import date, time
from pathlib import Path

import jsonschema
import msgspec
import pytest

from evenhand.rehearsal.rehearse import Wishes
from evenhand.steps import documents
from evenhand.steps.changes import as_json as changes_json
from evenhand.steps.changes import changes_of
from evenhand.steps.documents import DOCUMENTS, ExplainDocument, ScreenDocument, encode, schema
from evenhand.steps.explain import as_json as explain_json
from evenhand.steps.explain import explain
from evenhand.steps.hours_left import as_json as hours_json
from evenhand.steps.hours_left import use_of_hours
from evenhand.steps.inspect import as_json as inspect_json
from evenhand.steps.inspect import inspect_pc
from evenhand.steps.judge import as_json as judge_json
from evenhand.steps.judge import judge_study
from evenhand.steps.landing import Became, Told
from evenhand.steps.next import as_json as next_json
from evenhand.steps.next import next_of
from evenhand.steps.plan import Dates, Numbers, plan_study
from evenhand.steps.plan import as_json as plan_json
from evenhand.steps.rehearse import NoiseChoice, rehearse_study
from evenhand.steps.rehearse import as_json as rehearse_json
from evenhand.steps.screen import as_json as screen_json
from evenhand.steps.screen import screen_study
from evenhand.steps.standing import decide
from evenhand.steps.thin import as_json as thin_json
from evenhand.steps.thin import thin_study
from evenhand.steps.watch import as_json as watch_json
from evenhand.study.model import RunKey


@pytest.fixture
def answers(judged: Path) -> dict[str, str]:
    decide(judged, "ironvale/mine/lean/v3/r2", "set-aside", "capped", "Ada")
    return {
        "screen": screen_json(screen_study(judged)),
        "judge": judge_json(judge_study(judged)),
        "explain": explain_json(explain(judged, "night-ferry")),
        "thin": thin_json(thin_study(judged)),
        "plan": plan_json(plan_study(judged, Numbers(hours_a_day=3), Dates(date(2026, 12, 1), time(19, 0)))),
        "next": next_json(next_of(judged)),
        "watch": watch_json(Told("a.csv", Became.KEPT, "kept", RunKey("ironvale", "mine", "lean", 1, 1), filled=1, planned=2)),
        "inspect": inspect_json(inspect_pc(judged)),
        "changes": changes_json(changes_of(judged)),
        "hours-left": hours_json(use_of_hours(judged, 2)),
        "rehearse": rehearse_json(rehearse_study(judged, wishes=Wishes(studies=100), noise=NoiseChoice())),
    }


def test_every_document_fits_its_schema(answers: dict[str, str]) -> None:
    """By a general validator of JSON Schema."""
    assert set(answers) == set(DOCUMENTS)
    for name, text in answers.items():
        jsonschema.Draft202012Validator.check_schema(schema(name))
        jsonschema.Draft202012Validator(schema(name)).validate(json.loads(text))
        assert json.loads(text)["form"] == f"evenhand-{name}-1"


def test_a_document_that_does_not_fit_is_noticed(answers: dict[str, str]) -> None:
    broken = json.loads(answers["screen"])
    broken["runs"][0]["proven"] = "yes"
    assert not jsonschema.Draft202012Validator(schema("screen")).is_valid(broken)
    del broken["flags"]
    assert len(list(jsonschema.Draft202012Validator(schema("screen")).iter_errors(broken))) == 2


def test_what_the_screening_document_says(answers: dict[str, str]) -> None:
    found = msgspec.json.decode(answers["screen"], type=ScreenDocument)
    assert len(found.runs) == 24
    [decided] = [r for r in found.runs if r.by]
    assert (decided.standing, decided.by, decided.why, decided.run.visit) == ("set aside", "Ada", "capped", 3)
    assert "capped" in {f.check for f in found.flags}


def test_what_the_judging_document_says(judged: Path, answers: dict[str, str]) -> None:
    found = json.loads(answers["judge"])
    shown = judge_study(judged).opened.outcome.shown
    assert (found["runs"], found["baseline"], found["low"]) == (23, "plain", "low1_percentile")
    assert found["measures"].keys() == shown.measures.keys()
    for got, c in zip(found["measures"]["average"]["comparisons"], shown.measures["average"].comparisons, strict=True):
        assert (got["title"], got["setup"], got["verdict"]) == (c.title, c.setup, c.verdict.value)
        assert (got["estimate"], got["se"]) == (c.estimate, c.se)
    assert found["disagreements"] == [] or {"way", "shown", "other"} <= found["disagreements"][0].keys()


def test_what_the_derivation_says(answers: dict[str, str]) -> None:
    found = msgspec.json.decode(answers["explain"], type=ExplainDocument)
    assert (found.asked, found.measure) == ("night-ferry", "average")
    assert len(found.steps) > 8 and all(step.what and step.value for step in found.steps)


def test_numbers_that_do_not_exist_are_null(judged: Path, answers: dict[str, str]) -> None:
    """RFC 8259 knows neither NaN nor Infinity."""
    for text in answers.values():
        json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} in the document"))
    flag = screen_study(judged).screening.flags[0]
    odd = replace(flag, evidence={"share": math.nan, "limit": math.inf, "seen": 0.5})
    text = encode(ScreenDocument("evenhand-screen-1", "0", (), (odd,), (), ()))
    assert json.loads(text)["flags"][0]["evidence"] == {"share": None, "limit": None, "seen": 0.5}
    jsonschema.Draft202012Validator(schema("screen")).validate(json.loads(text))


def test_the_published_schemas_are_those_of_the_program() -> None:
    for name in DOCUMENTS:
        numbers = [node for node in _nodes(documents.schema(name)) if node.get("type") == ["number", "null"]]
        assert numbers or name == "explain"
        assert not [node for node in _nodes(documents.schema(name)) if node.get("type") == "number"]


def _nodes(node: object) -> list[dict[str, object]]:
    if isinstance(node, dict):
        return [node, *(n for value in node.values() for n in _nodes(value))]
    return [n for item in node for n in _nodes(item)] if isinstance(node, list) else []
