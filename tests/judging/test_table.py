"""What `judge` takes, and what it says of tables that it cannot take."""

import polars as pl
import pytest
from invented_runs import design, study

from evenhand.errors import JudgingError
from evenhand.judging.judge import judge
from evenhand.judging.table import read_runs


class Series(list):
    """A column as pandas gives it."""

    def to_list(self):
        return list(self)


class PandasLike:
    """A data frame of which only `columns` and columns with `to_list()` are asked; pandas itself is no dependency."""

    def __init__(self, columns):
        self._columns = {name: Series(values) for name, values in columns.items()}
        self.columns = list(columns)

    def __getitem__(self, name):
        return self._columns[name]


NAMES = ("title", "setup", "visit", "run", "measure", "value", "scene")
ROWS = study()
RECORDS = [{name: getattr(r, name) for name in NAMES} for r in ROWS]
COLUMNS = {name: [r[name] for r in RECORDS] for name in NAMES}


@pytest.mark.parametrize(
    "table",
    [ROWS, RECORDS, COLUMNS, pl.DataFrame(RECORDS), PandasLike(COLUMNS), pl.DataFrame(RECORDS).drop("scene")],
    ids=["rows", "records", "columns", "polars", "pandas-like", "without scenes"],
)
def test_kinds_of_table_give_the_same_judgement(table):
    expected = judge(ROWS, design())
    found = judge(table, design())
    assert found.measures == expected.measures
    assert (found.runs, found.visits, found.titles) == (144, 12, expected.titles)


def test_visits_may_be_named():
    named = [{**r, "visit": f"day {r['visit']}"} for r in RECORDS]
    assert judge(named, design()).measures["rate"].comparisons == judge(RECORDS, design()).measures["rate"].comparisons


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda rows: 7, "a table is a data frame or a list of records, not int  [table-kind]"),
        (
            lambda rows: [{k: v for k, v in r.items() if k != "visit"} for r in rows],
            "the table lacks the column visit; it has measure, run, scene, setup, title and value  [table-column]\n"
            "  -> Rename or add the column.",
        ),
        (
            lambda rows: [*rows[:3], {k: v for k, v in rows[3].items() if k != "run"}],
            "record 4: the record lacks run  [table-column]",
        ),
        (
            lambda rows: [{**r, "measure": "low"} for r in rows],
            "measure: the table has no row of the measures asked for; it has low  [table-empty]",
        ),
        (lambda rows: [], "measure: the table has no row of the measures asked for; it has no row at all  [table-empty]"),
        (lambda rows: [{**rows[0], "value": "fast"}, *rows[1:]], "value: 'fast' is not a number  [table-value]"),
        (
            lambda rows: [{**r, "setup": {"D": "DD"}.get(r["setup"], r["setup"])} for r in rows],
            "setup: the design has no setup DD  [table-setup]\n  -> Did you mean D?",
        ),
        (
            lambda rows: [*rows, rows[7]],
            "1 run stated more than once, the first is title 0, B, visit 1, run 2  [table-doubled]\n"
            "  -> Keep one value for each run and measure.",
        ),
    ],
)
def test_tables_that_cannot_be_judged(change, message):
    with pytest.raises(JudgingError) as failure:
        judge(change(RECORDS), design())
    assert str(failure.value) == message


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({"baseline": "E"}, "baseline: the baseline 'E' is none of A, B, C and D  [design-setups]"),
        ({"confidence": 95.0}, "confidence: confidence lies between 0 and 1, found 95.0  [design-setups]"),
        (
            {"levels": {"A": {"x": "high"}}, "factors": {"x": ("on", "off")}},
            "levels: A has level 'high' of x, which has on and off  [design-setups]",
        ),
        ({"weights": {"Ironvale": 0.0}}, "weights: the weight of Ironvale is a number above 0, found 0.0  [design-setups]"),
        ({"margins": {"rate": -0.03}}, "margins: the margin of rate is a number not below 0, found -0.03  [design-setups]"),
        ({"setups": ("A", "A")}, "setups: setups must be named once each, found A and A  [design-setups]"),
    ],
)
def test_designs_that_do_not_fit(more, message):
    base = design()
    changed = {name: getattr(base, name) for name in ("setups", "baseline", "measures", "levels", "factors", "confidence")} | more
    with pytest.raises(JudgingError) as failure:
        judge(ROWS, base.__class__(**changed))
    assert str(failure.value) == message


def test_measures_that_are_not_asked_for_are_not_read():
    other = [{**r, "measure": "other", "setup": "none", "value": "text"} for r in RECORDS]
    assert read_runs(RECORDS + other, design()).measures == ("rate",)
