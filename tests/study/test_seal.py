"""What of a study is sealed: the same protocol has the same hash however it is written; every difference is found."""

import hashlib
import tomllib
from dataclasses import replace

import pytest

from evenhand.study.model import Change, Level, Spending
from evenhand.study.read import parse_study
from evenhand.study.seal import changes, protocol_text, seal_of
from evenhand.study.starter import starter_text
from evenhand.study.write import study_text

STUDY = parse_study(starter_text(), "study.toml")
TEXT = protocol_text(STUDY)


def differences(study):
    return changes(TEXT, protocol_text(study), study)


def test_the_seal_is_the_hash_of_a_text_that_anyone_can_read():
    assert seal_of(TEXT) == hashlib.sha256(TEXT.encode()).hexdigest()
    read = tomllib.loads(TEXT)
    assert read["margins"]["average"] == "3 %"
    assert read["scene ironvale/foundry"] == {"pace": "frames", "seconds": "50", "settings": "1080p, high"}
    assert read["setup 5200-45W"] == {"levels": "limit 45W, memory 5200"}
    assert TEXT.endswith("\n") and "\r" not in TEXT


def test_what_is_no_protocol_changes_nothing():
    titles = tuple(replace(t, label=t.label + "!") for t in reversed(STUDY.titles))
    other = replace(
        STUDY,
        titles=titles,
        setups=tuple(replace(s, label="x" + s.label) for s in reversed(STUDY.setups)),
        bench={"cooler": "as it came"},
        protocol=replace(STUDY.protocol, notes="Room at 21 °C."),
        factors=tuple(replace(f, label="y" + f.label) for f in STUDY.factors),
    )
    assert seal_of(protocol_text(other)) == seal_of(TEXT)
    assert differences(other) == ()
    again = parse_study(study_text(STUDY), "study.toml")
    assert protocol_text(again) == TEXT


@pytest.mark.parametrize(
    ("study", "found"),
    [
        (replace(STUDY, margins={**STUDY.margins, "average": 0.05}), Change("margins", "average", "3 %", "5 %")),
        (replace(STUDY, confidence=0.9), Change("study", "confidence", "0.95", "0.9")),
        (replace(STUDY, question="Which?"), Change("study", "question", STUDY.question, "Which?")),
        (replace(STUDY, exploratory=True), Change("study", "exploratory", "no", "yes")),
        (replace(STUDY, protocol=replace(STUDY.protocol, visits=4)), Change("protocol", "visits", "3", "4")),
        (replace(STUDY, protocol=replace(STUDY.protocol, looks=(2, 3))), Change("protocol", "looks", None, "2, 3")),
        (replace(STUDY, protocol=replace(STUDY.protocol, stop_at=0.01)), Change("protocol", "stop_at", None, "1 %")),
        (
            replace(STUDY, protocol=replace(STUDY.protocol, spending=Spending.POCOCK)),
            Change("protocol", "spending", "obrien-fleming", "pocock"),
        ),
        (
            replace(STUDY, protocol=replace(STUDY.protocol, set_aside=("odd-run", "capped"))),
            Change("protocol", "set_aside", None, "capped, odd-run"),
        ),
        (
            replace(STUDY, titles=(replace(STUDY.titles[0], weight=2.0), *STUDY.titles[1:])),
            Change("title harbour-lights", "weight", "1", "2"),
        ),
        (replace(STUDY, titles=STUDY.titles[1:]), Change("title harbour-lights", "", "weight 1", None)),
        (replace(STUDY, setups=STUDY.setups[1:]), Change("setup 5200-45W", "", "levels limit 45W, memory 5200", None)),
    ],
)
def test_each_difference_is_found_once(study, found):
    """A title goes with its scenes, so that it is one difference."""
    assert differences(study) == (found,)


def test_a_scene_or_level_of_what_stays_is_a_difference_of_its_own():
    tram, _ = STUDY.titles[0].scenes
    fewer = replace(STUDY, titles=(replace(STUDY.titles[0], scenes=(tram,)), *STUDY.titles[1:]))
    (found,) = differences(fewer)
    assert (found.part, found.key, found.now) == ("scene harbour-lights/rain", "", None)
    memory, limit = STUDY.factors
    more = replace(STUDY, factors=(replace(memory, levels=(*memory.levels, Level("7200", "DDR5-7200"))), limit))
    assert {c.part for c in differences(more)} == {"factor memory", "level memory/7200"}


def test_a_key_that_a_later_version_adds_is_no_change_while_it_keeps_its_default():
    older = "".join(line for line in TEXT.splitlines(keepends=True) if not line.startswith(("spending", "exploratory")))
    assert changes(older, TEXT, STUDY) == ()
    now = replace(STUDY, protocol=replace(STUDY.protocol, spending=Spending.POCOCK))
    assert changes(older, protocol_text(now), now) == (Change("protocol", "spending", None, "pocock"),)
