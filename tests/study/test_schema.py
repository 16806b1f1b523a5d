"""The table of keys agrees with the catalogues of other rooms and with the model."""

import tomllib
from dataclasses import fields

import pytest

from evenhand.measures.catalogue import CATALOGUE
from evenhand.measures.model import Scale
from evenhand.screening.catalogue import CHECKS
from evenhand.study.keys import Kind, Range
from evenhand.study.model import Costs, Factor, Level, Protocol, Scene, Setup, Study, Title
from evenhand.study.schema import CHECK_SLUGS, DIFFERENCE_MEASURES, RATIO_MEASURES, SCHEMA, TABLES
from evenhand.study.values import Fault, checked


def test_margins_are_those_of_the_measures():
    assert [m.key for m in CATALOGUE.values() if m.scale is Scale.LOG] == list(RATIO_MEASURES)
    assert [m.key for m in CATALOGUE.values() if m.scale is Scale.DIFFERENCE] == list(DIFFERENCE_MEASURES)


def test_checks_are_those_of_screening():
    assert sorted(CHECK_SLUGS) == sorted(CHECKS)


@pytest.mark.parametrize(
    ("table", "model", "others"),
    [
        ("study", Study, {"setups", "titles", "factors", "margins", "protocol", "weights", "inputs", "costs"}),
        ("factor", Factor, {"levels"}),
        ("factor.level", Level, set()),
        ("setup", Setup, set()),
        ("title", Title, {"scenes"}),
        ("title.scene", Scene, set()),
        ("costs", Costs, set()),
        ("protocol", Protocol, set()),
    ],
)
def test_each_field_of_the_model_can_be_written(table, model, others):
    assert {field.name for field in fields(model)} - others == set(SCHEMA[table])


def test_every_example_is_itself_allowed_and_every_row_speaks():
    assert set(SCHEMA) == set(TABLES)
    for keys in SCHEMA.values():
        for key in keys.values():
            assert key.help and not key.help.endswith(".")
            value = tomllib.loads(f"x = {key.example}")["x"]
            assert not isinstance(checked(key, value), Fault), key
            assert bool(key.choices) == (key.kind in (Kind.CHOICE, Kind.CHOICES))


def test_ranges_in_words():
    assert [str(r) for r in (Range(0, open_low=True), Range(1, 5), Range(0.5, 1, True, True), Range(0))] == [
        "above 0",
        "from 1 to 5",
        "above 0.5 and below 1",
        "0 or more",
    ]
    assert 0.5 not in Range(0.5, 1, True, True)
    assert 5 in Range(1, 5)
