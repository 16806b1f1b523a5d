"""The section on the recommendation, from runs to tables."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.writeup import sample

from evenhand.charts.over import over_titles
from evenhand.charts.theme import PAGE
from evenhand.judging.advice.model import Preferences, Recommendation
from evenhand.judging.advice.recommend import recommend
from evenhand.judging.judge import judge
from evenhand.judging.model import Design, Row
from evenhand.study.model import Inputs, Stated
from evenhand.units import percent_of_log
from evenhand.writeup.brief import recommended
from evenhand.writeup.material import Material
from evenhand.writeup.sections.recommendation import PRIOR, recommendation

GAINS = {"fast-65": 0.0, "fast-45": 0.1, "slow-65": 0.0, "slow-45": -0.1}


def rows() -> list[Row]:
    rng = np.random.default_rng(5)
    return [
        Row(sample.key(t), s, v, 1, m.key, float(100 * np.exp(g * (1 if t != "Ironvale" else -1) + rng.normal(0, 0.005))))
        for t in sample.TITLES[:5]
        for s, g in GAINS.items()
        for v in (1, 2, 3)
        for m in (sample.AVERAGE, sample.LOW)
    ]


@pytest.fixture(scope="module")
def material() -> Material:
    base = sample.material(sample.study(sample.TITLES[:5]), pictures=False)
    found = judge(rows(), Design(tuple(GAINS), "fast-65", (sample.AVERAGE, sample.LOW)))
    watts = {(sample.key(t), s): 90.0 if s.endswith("65") else 72.0 for t in sample.TITLES[:5] for s in GAINS}
    wanted = Preferences(
        {"average": 1.0, sample.LOW.key: 1.0},
        brings={"fast-45": (Stated("a quieter PC", {"watts": -18.0}),)},
        gives_up={"slow-65": (Stated("memory speed"),)},
        inputs=Inputs(power=watts),
    )
    return replace(base, judgement=found, advice=recommend(found, wanted))


def advice_of(material: Material) -> Recommendation:
    assert material.advice is not None
    return material.advice


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_one_answer_with_its_exception(material: Material) -> None:
    section = recommendation(material)
    assert section is not None and plain(section.heading) == "Choose 6400 · 45 W, with 1 title as the exception"
    gains, titles = section.tables
    assert {len(row) for row in gains.rows} == {len(gains.head)} and {len(row) for row in titles.rows} == {len(titles.head)}
    assert len(gains.columns) == len(gains.head) and len(titles.columns) == len(titles.head)
    assert titles.head[-3:] == ("power drawn", "brings", "gives up")


def test_the_numbers_of_a_row_are_those_of_the_advice(material: Material) -> None:
    section, own = recommendation(material), advice_of(material).of("fast-45")
    assert section is not None
    row = next(r for r in section.tables[0].rows if plain(r[0]) == "6400 · 45 W" and r[1] == "average frame rate")
    worst = own.measures[0].worst_regret
    assert worst is not None and plain(row[3]) == f"{-percent_of_log(-worst):.0f} %, Ironvale" and row[5] == "4 of 5"
    titles = next(r for r in section.tables[1].rows if plain(r[0]) == "6400 · 45 W")
    assert [plain(c) for c in titles[1:4]] == ["1: Ironvale", "4 titles", "none"]
    assert [plain(c) for c in titles[4:]] == [
        "over 99 %",
        "72 W (−20.0 %, titles ± 0 %); 0.68 J a frame",
        "a quieter PC: −18 watts",
        "–",
    ]


def test_power_by_visits_is_told_with_its_verdict(material: Material) -> None:
    visits = {
        (sample.key(t), s, v): (90.0 if s.endswith("65") else 72.0) * (1 + 0.01 * v * (s == "fast-45"))
        for t in sample.TITLES[:5]
        for s in GAINS
        for v in (1, 2, 3)
    }
    watts = {(t, s): w for (t, s, _), w in visits.items()}
    advice = recommend(material.judgement, Preferences({"average": 1.0}, inputs=Inputs(watts, visits)))
    section = recommendation(replace(material, advice=advice))
    assert section is not None
    cells = {plain(r[0]): plain(r[5]) for r in section.tables[1].rows}
    assert "less, beyond the margin); " in cells["6400 · 45 W"] and "level" in cells["5200 · 65 W"]
    assert cells["6400 · 65 W"].startswith("90 W; ") and "judged by visits" in section.tables[1].caption


def test_rules_and_chances_are_folded_and_name_their_prior(material: Material) -> None:
    section = recommendation(material)
    assert section is not None
    rules, chances = section.parts
    assert rules.folded and chances.folded and chances.paragraphs == (PRIOR,)
    assert [r[0] for r in rules.tables[0].rows] == [
        "highest mean gain",
        "smallest worst regret",
        "smallest mean regret, beyond the margin",
    ]
    at = {plain(r[0]): r[1:] for r in chances.tables[0].rows}
    assert plain(at["Ironvale"][3]) == "over 99 %" and plain(at["Night Ferry"][1]) == "over 99 %"


def test_the_terminal_gets_it_in_a_few_lines(material: Material) -> None:
    (section,) = recommended(material)
    assert section.heading.startswith("Choose ") and not section.heading.endswith(".")
    assert 1 <= len(section.paragraphs) <= 3 and "Ironvale" in section.paragraphs[0]


def test_without_anything_to_choose_by_there_is_no_section(material: Material) -> None:
    assert recommendation(replace(material, advice=None)) is None and recommended(replace(material, advice=None)) == ()


def test_the_chart_over_titles_compares_with_the_baseline_wherever_it_stands(material: Material) -> None:
    of = replace(material.study, baseline="slow-45")
    found = judge(rows(), Design(tuple(GAINS), "slow-45", (sample.AVERAGE, sample.LOW)))
    chart = over_titles(of, found.measures["average"], found.measures[sample.LOW.key], form=PAGE)
    over = {o.setup: o for o in found.measures["average"].over if o.against == "slow-45"}
    assert f"6400 · 45 W: average +{percent_of_log(over['fast-45'].estimate):.0f}" in plain(chart.alt)
