"""A study written is read back equal, whatever it holds."""

import unicodedata
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from evenhand.study.model import (
    Apply,
    Costs,
    Factor,
    IntervalMeaning,
    Level,
    LowDefinition,
    Pace,
    Protocol,
    Rounds,
    Scene,
    Setup,
    Spending,
    Stated,
    Study,
    Title,
)
from evenhand.study.names import folded, name_fault, safe_name
from evenhand.study.read import parse_study
from evenhand.study.schema import CHECK_SLUGS, DIFFERENCE_MEASURES, RATIO_MEASURES, TABLES, WEIGHED
from evenhand.study.setups import all_setups
from evenhand.study.starter import starter_text
from evenhand.study.write import study_text

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=30).map(lambda text: unicodedata.normalize("NFC", text))
NAMES = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12).map(safe_name)
POSITIVE = st.floats(1e-6, 1e9)
STATED = st.none() | st.builds(
    Stated, TEXT.filter(str.strip), st.dictionaries(TEXT.filter(lambda unit: unit != "words"), st.floats(-1e9, 1e9), max_size=2)
)
MINUTES = st.none() | st.floats(0, 1000)
FACTS = st.dictionaries(TEXT, TEXT | st.booleans() | st.floats(-1e9, 1e9), max_size=2)


def several(names, least, most):
    return st.lists(names, min_size=least, max_size=most, unique_by=folded)


@st.composite
def labelled(draw, least, most):
    """Names with labels, neither twice."""
    names = draw(several(NAMES, least, most))
    return [(name, f"{draw(TEXT)}{i}") for i, name in enumerate(names)]


@st.composite
def factors(draw):
    made = []
    for i, (name, label) in enumerate(draw(labelled(0, 2))):
        values = draw(st.lists(st.floats(-1e9, 1e9), min_size=3, max_size=3, unique=True))
        levels = [
            Level(
                n,
                text,
                value if draw(st.booleans()) else None,
                {f"{i}{j}": draw(TEXT), **{f"{i}{k}": v for k, v in draw(FACTS).items()}},
                draw(STATED),
                draw(STATED),
                tuple(draw(st.lists(TEXT, max_size=2))),
            )
            for j, ((n, text), value) in enumerate(zip(draw(labelled(2, 3)), values, strict=False))
        ]
        made.append(Factor(name, label, tuple(levels), draw(st.sampled_from(Apply))))
    return tuple(made)


@st.composite
def studies(draw):
    changed = draw(factors())
    whole = all_setups(changed)
    clean = len({folded(s.name) for s in whole}) == len({s.label for s in whole}) == len(whole)
    if changed and clean and not any(name_fault(s.name) for s in whole) and draw(st.booleans()):
        setups = whole
    else:
        named = draw(labelled(1, len(whole) if changed else 4))
        setups = tuple(
            Setup(n, text, s.levels if changed else {}, draw(STATED), draw(STATED), draw(MINUTES))
            for (n, text), s in zip(named, whole * 4, strict=False)
        )
    runs = draw(st.integers(1, 9))
    titles = tuple(
        Title(
            n,
            text,
            draw(scenes(n, text, runs)),
            draw(POSITIVE),
            draw(MINUTES),
            draw(st.none() | POSITIVE),
            draw(TEXT),
            tuple(draw(st.lists(TEXT, max_size=2))),
        )
        for n, text in draw(labelled(1, 3))
    )
    margins = draw(st.dictionaries(st.sampled_from(RATIO_MEASURES), st.floats(0.001, 0.99), max_size=3))
    margins |= draw(st.dictionaries(st.sampled_from(sorted(DIFFERENCE_MEASURES)), POSITIVE, max_size=2))
    looks = tuple(sorted(draw(st.sets(st.integers(2, 30), max_size=3))))
    return Study(
        question=draw(TEXT),
        baseline=draw(st.sampled_from([s.name for s in setups])),
        setups=setups,
        titles=titles,
        factors=changed,
        margins=margins,
        confidence=draw(st.floats(0.51, 0.999)),
        low=draw(st.sampled_from(LowDefinition)),
        interval=draw(st.sampled_from(IntervalMeaning)),
        protocol=Protocol(
            looks[-1] if looks else draw(st.integers(1, 9)),
            runs,
            draw(st.integers(0, runs - 1)),
            draw(st.sampled_from(Rounds)),
            tuple(draw(st.lists(st.sampled_from(CHECK_SLUGS), max_size=3))),
            draw(TEXT),
            looks,
            draw(st.sampled_from(Spending)),
            None if looks else draw(st.none() | st.floats(0.001, 0.99)),
        ),
        target_rate=draw(st.floats(1, 1000)),
        exploratory=draw(st.booleans()),
        bench=draw(st.dictionaries(TEXT.filter(bool), TEXT, max_size=3)),
        weights=draw(st.dictionaries(st.sampled_from(WEIGHED[2:]), st.floats(0, 1000), max_size=2)),
        inputs=draw(st.dictionaries(st.sampled_from(["power", "graphics_load"]), TEXT, max_size=2)),
        costs=Costs(
            **draw(st.dictionaries(st.sampled_from(["apply", "settle", "load", "warm_up"]), st.floats(0, 1000), max_size=2)),
            disk_gb=draw(MINUTES),
        ),
    )


@st.composite
def scenes(draw, name, label, runs):
    if draw(st.booleans()):
        return (Scene(name, label),)
    return tuple(
        Scene(
            n,
            text,
            draw(st.none() | POSITIVE),
            draw(st.sampled_from(Pace)),
            draw(TEXT),
            draw(st.none() | POSITIVE),
            draw(st.none() | st.booleans()),
            tuple(draw(st.lists(TEXT, max_size=2))),
            draw(TEXT),
            draw(st.none() | st.integers(0, runs - 1)),
        )
        for n, text in draw(labelled(1, 3))
    )


@settings(max_examples=150, deadline=None)
@given(studies(), st.booleans())
def test_written_is_read_back_equal(study, comments):
    assert parse_study(study_text(study, comments), "study.toml") == study


def test_the_starter_comes_back_too():
    study = parse_study(starter_text(), "study.toml")
    text = study_text(study)
    assert parse_study(text, "again") == study
    assert "[[setup]]" not in text  # all combinations need not be listed
    for table in {"study", "margins", "factor", "factor.level", "title", "title.scene", "protocol"}:
        assert f"# {TABLES[table].help}\n{TABLES[table].header}" in text


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=100))
def test_any_text_makes_a_safe_name_and_a_name_stays(text):
    name = safe_name(text)
    assert name_fault(name) is None
    assert safe_name(name) == name
    assert Path(name).name == name
