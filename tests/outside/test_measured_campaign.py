"""The recorded campaign's effects as any statistician would find them, and no verdict that contradicts them.

What must come out is known from how the machine and the game work (the campaign's README.md): scene `keep` uses the game's own
one-thread renderer, so neither factor touches it; the OpenGL scenes are drawn by renderer threads, so more cores do nothing for
one thread, and both together do more than the sum. The numbers are checked against statsmodels: ordinary least squares on visit
means of log averages with a term for each setup and each round (Montgomery, Design and Analysis of Experiments, randomized
complete block design and the 2² factorial).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

from evenhand.book.book import Book
from evenhand.examples.measured import unpack
from evenhand.examples.measured_study import measured_study
from evenhand.judging.model import Judgement, Verdict
from evenhand.steps.material import material
from evenhand.steps.runs import StudyRun
from evenhand.steps.study import Opened, open_study
from evenhand.steps.take import take
from evenhand.study.model import RunKey
from evenhand.study.write import study_text
from evenhand.writeup.compose import compose
from evenhand.writeup.model import Section

OPENGL = ("hangar", "works", "quarry")
MOVED = frozenset({Verdict.AHEAD, Verdict.AHEAD_BEYOND, Verdict.BEHIND, Verdict.BEHIND_BEYOND})
AHEAD = frozenset({Verdict.AHEAD, Verdict.AHEAD_BEYOND})
#: On the logarithm: the two fits solve the same least squares, so nothing but rounding lies between them.
TOLERANCE = 1e-9


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Opened:
    logs, folder = tmp_path_factory.mktemp("logs"), tmp_path_factory.mktemp("study") / "measured"
    unpack("campaign", logs)
    study = measured_study("campaign")
    keys = {}
    for title in study.titles:
        for path in (logs / title.name).iterdir():
            setup, visit, run = path.stem.split("-")
            keys[path] = RunKey(title.name, title.name, setup, int(visit[1:]), int(run[1:]))
    with Book.create(folder, study_text(study)) as book:
        assert len(take(book, study, keys).taken) == 96
    return open_study(folder)


@pytest.fixture(scope="module")
def judgement(opened: Opened) -> Judgement:
    return opened.outcome.shown


def visit_means(runs: tuple[StudyRun, ...]) -> pd.DataFrame:
    rows = [(r.key.title, r.key.setup, r.key.visit, np.log(r.measures.values["average"])) for r in runs]
    table = pd.DataFrame(rows, columns=["title", "setup", "visit", "y"])
    return table.groupby(["title", "setup", "visit"], as_index=False)["y"].mean()


def coded(table: pd.DataFrame) -> pd.DataFrame:
    """The factors as −½ and +½: a coefficient is then a difference of means, and the product's half the interaction."""
    many, wide = table["setup"].isin(["B", "D"]), table["setup"].isin(["C", "D"])
    return table.assign(threads=many.astype(float) - 0.5, cores=wide.astype(float) - 0.5)


def effects(judgement: Judgement, title: str | None) -> Mapping[tuple[str, ...], float]:
    return {e.factors: e.estimate for e in judgement.measures["average"].effects if e.title == title}


def test_nothing_moves_the_scene_of_one_thread(judgement: Judgement) -> None:
    average = judgement.measures["average"]
    own = [c for c in average.comparisons if c.title == "keep"]
    assert len(own) == 6
    assert not [c for c in own if c.verdict in MOVED]
    assert not [e for e in average.effects if e.title == "keep" and e.verdict in MOVED]


@pytest.mark.parametrize("title", OPENGL)
def test_more_cores_do_nothing_for_one_thread(judgement: Judgement, title: str) -> None:
    for judged in judgement.measures.values():
        assert not [c for c in judged.comparisons if (c.title, c.setup, c.against) == (title, "C", "A") and c.verdict in MOVED]


@pytest.mark.parametrize("title", OPENGL)
def test_threads_and_cores_need_each_other(judgement: Judgement, title: str) -> None:
    [joint] = [e for e in judgement.measures["average"].effects if e.title == title and len(e.factors) == 2]
    assert joint.verdict in AHEAD
    [both] = [c for c in judgement.measures["average"].comparisons if (c.title, c.setup, c.against) == (title, "D", "A")]
    assert both.verdict is Verdict.AHEAD_BEYOND


@pytest.mark.parametrize("title", ["keep", *OPENGL])
def test_effects_of_a_title_are_those_of_least_squares(opened: Opened, judgement: Judgement, title: str) -> None:
    table = coded(visit_means(opened.outcome.runs))
    fit = smf.ols("y ~ threads * cores + C(visit)", data=table[table["title"] == title]).fit()
    found = effects(judgement, title)
    assert found[("renderer_threads",)] == pytest.approx(fit.params["threads"], abs=TOLERANCE)
    assert found[("cores",)] == pytest.approx(fit.params["cores"], abs=TOLERANCE)
    assert found[("renderer_threads", "cores")] == pytest.approx(fit.params["threads:cores"], abs=TOLERANCE)


@pytest.mark.parametrize("title", ["keep", *OPENGL])
def test_differences_of_setups_are_those_of_least_squares(opened: Opened, judgement: Judgement, title: str) -> None:
    table = visit_means(opened.outcome.runs)
    fit = smf.ols("y ~ C(setup) + C(visit)", data=table[table["title"] == title]).fit()
    for c in judgement.measures["average"].comparisons:
        if c.title == title and c.against == "A":
            assert c.estimate == pytest.approx(fit.params[f"C(setup)[T.{c.setup}]"], abs=TOLERANCE)


def test_effects_over_titles_are_means_of_the_titles(opened: Opened, judgement: Judgement) -> None:
    """Every title is one vote: least squares on all scenes with a term for each scene and each of its rounds."""
    fit = smf.ols("y ~ threads * cores + C(title):C(visit)", data=coded(visit_means(opened.outcome.runs))).fit()
    found = effects(judgement, None)
    for factors, term in (
        (("renderer_threads",), "threads"),
        (("cores",), "cores"),
        (("renderer_threads", "cores"), "threads:cores"),
    ):
        assert found[factors] == pytest.approx(fit.params[term], abs=TOLERANCE)


def texts(section: Section) -> str:
    own = [section.heading, section.lead, *section.paragraphs, *section.items]
    own += [" ".join(row) for table in section.tables for row in table.rows]
    return "\n".join([*own, *(texts(part) for part in section.parts)])


def test_no_sentence_of_the_report_contradicts_it(opened: Opened) -> None:
    """Every phrase that moves a scene by name is about an OpenGL scene under B or D."""
    report = compose(material(opened.outcome, opened.stretches, events=opened.events))
    keep = next(s for s in report.sections if "Keep" in s.heading or any("Keep" in p.heading for p in s.parts))
    own = keep if "Keep" in keep.heading else next(p for p in keep.parts if "Keep" in p.heading)
    assert "ahead" not in own.heading.replace("not ahead", "") and "behind" not in own.heading
    assert not [line for line in texts(own).splitlines() if " is ahead" in line or " are ahead" in line or " is behind" in line]
    for sentence in report.answer:
        assert "Keep" not in sentence or "ahead" not in sentence.partition("Keep")[2].partition(";")[0]
