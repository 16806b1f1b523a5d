"""The names that rooms promise to one another and to people who use the library."""

from __future__ import annotations

import inspect
from importlib import import_module

import jsonschema
import pytest

#: "module:name" -> parameters that callers rely on, in order; further ones may follow.
PROMISED: dict[str, tuple[str, ...]] = {
    "study.read:read_study": ("path",),
    "study.read:parse_study": ("text", "name"),
    "study.write:study_text": ("study", "comments"),
    "study.starter:starter_text": (),
    "study.guess:guess_keys": ("paths", "pattern"),
    "study.guess:study_of": ("keys",),
    "frames.read:read_log": ("data", "name", "recipe", "column", "role", "unit", "delimiter", "decimal", "where"),
    "frames.read:load_bytes": ("path",),
    "frames.read:recipe_of": ("reading",),
    "frames.start:find_start": ("frames",),
    "frames.stretch:propose": ("scene", "pace", "runs"),
    "frames.stretch:apply": ("frames", "stretch"),
    "frames.profile:pace_profile": ("frames", "pace", "bins", "length"),
    "frames.profile:lag": ("profile", "reference"),
    "measures.catalogue:low_key": ("definition", "share"),
    "measures.compute:measure_run": ("frames", "target_rate"),
    "measures.compute:pool": ("frames", "target_rate"),
    "measures.uncertainty:run_interval": ("frames", "key", "confidence", "resamples", "seed"),
    "screening.screen:screen": ("runs", "thresholds"),
    "screening.blind:hide_setups": ("screening", "runs", "seed"),
    "judging.judge:judge": ("table", "design"),
    "judging.compare:disagreements": ("shown", "other", "way"),
    "charts.titles:title_rows": (),
    "charts.over:over_titles": (),
    "charts.trace:pace_traces": (),
    "charts.slow:slow_frame_curve": (),
    "charts.forest:title_contrasts": (),
    "charts.draw:svg": ("chart",),
    "charts.draw:png": ("chart", "width", "height"),
    "writeup.compose:compose": ("material",),
    "writeup.page:render": ("report",),
    "examples.invented:invented_study": (),
    "examples.invented:invented_truth": (),
    "examples.invented:write_logs": ("folder", "seed"),
    "examples.measured_study:measured_study": ("campaign",),
}
VERBS = ("look", "new", "take", "screen", "standing", "judge", "explain", "publish", "rebuild", "demo", "rehearse")


@pytest.mark.parametrize("promise", PROMISED)
def test_promised_function_takes_what_was_promised(promise: str) -> None:
    module, name = promise.split(":")
    function = getattr(import_module(f"evenhand.{module}"), name)
    parameters = tuple(inspect.signature(function).parameters)
    assert parameters[: len(PROMISED[promise])] == PROMISED[promise]


@pytest.mark.parametrize("promise", PROMISED)
def test_promised_function_says_what_it_does(promise: str) -> None:
    module, name = promise.split(":")
    assert len(inspect.getdoc(getattr(import_module(f"evenhand.{module}"), name)) or "") > 20


@pytest.mark.parametrize("verb", VERBS)
def test_a_verb_has_a_step_and_a_command_of_its_name(verb: str) -> None:
    import_module(f"evenhand.steps.{verb}")
    app = import_module("evenhand.cli.app").app
    assert verb in {command.name or command.callback.__name__ for command in app.registered_commands}


@pytest.mark.parametrize("name", ["judge", "screen", "explain", "rehearse"])
def test_json_answers_have_a_schema_that_names_their_form(name: str) -> None:
    documents = import_module("evenhand.steps.documents")
    schema = documents.schema(name)
    root = schema["$defs"][documents.DOCUMENTS[name].__name__]
    assert {"form", "version"} <= set(root["required"])
    jsonschema.Draft202012Validator.check_schema(schema)
