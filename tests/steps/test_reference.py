"""The reference of a scene that a person plays: the first run kept, drawn behind every setup's pace."""

import json
from dataclasses import replace

import numpy as np
import pytest

from evenhand.book.book import Book
from evenhand.charts.trace import pace_trace, pace_traces
from evenhand.steps.material import references
from evenhand.steps.measured import measured_runs
from evenhand.steps.standing import decide
from evenhand.study.read import read_study


def found(folder, route):
    with Book.open(folder) as book:
        study = read_study(book.study_file)
        ferry = study.title("night-ferry")
        played = replace(ferry, scenes=(replace(ferry.scenes[0], route=route),))
        study = replace(study, titles=(played, study.title("ironvale")))
        return study, measured_runs(book, study), book.stretches()


def test_only_of_scenes_that_a_person_plays(judged):
    assert references(*found(judged, "")) == {}
    assert list(references(*found(judged, "along the rail"))) == [("night-ferry", "deck")]


def test_it_is_the_first_run_kept(judged):
    study, runs, stretches = found(judged, "along the rail")
    own = [r for r in runs if r.key.title == "night-ferry" and r.key.setup == "plain"]
    [one] = references(study, runs, stretches).values()
    assert one.runs == 1 and one.setup == "plain"
    stretch = stretches["night-ferry/deck"]
    first = pace_trace("plain", [own[0].cut.counted], stretch.pace, stretch.length)
    assert np.array_equal(one.rate, first.rate)
    decide(judged, "night-ferry/deck/plain/v1/r1", "redo", "fell into the water")
    [other] = references(*found(judged, "along the rail")).values()
    second = pace_trace("plain", [own[1].cut.counted], stretch.pace, stretch.length)
    assert np.array_equal(other.rate, second.rate)


@pytest.mark.parametrize("there", [True, False])
def test_it_is_drawn_and_told(judged, there):
    study, runs, stretches = found(judged, "along the rail")
    [one] = references(study, runs, stretches).values()
    chart = pace_traces(study, "night-ferry", "deck", [one], one if there else None)
    assert ("Grey: the reference, the first run kept, under Plain." in chart.caption) is there
    plain = pace_traces(study, "night-ferry", "deck", [one])
    assert (len(json.dumps(chart.spec)) > len(json.dumps(plain.spec)) + 1000) is there
