"""The whole derivation of a number, worked through again by hand: from nothing but the steps that are printed."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy import stats

from evenhand.judging.analysis import analyse
from evenhand.judging.contrasts import factor_contrasts
from evenhand.judging.judge import judge
from evenhand.judging.model import Design, Interval, Judgement, Row
from evenhand.judging.table import read_runs
from evenhand.judging.visits import visit_means
from evenhand.measures.model import Better, Measure, Scale
from evenhand.steps.derivation import Derivation, figure
from evenhand.steps.documents import Step
from evenhand.steps.explain_contrast import cell_contrast, derive, effect_contrast, pair_at_title, pair_over_titles
from evenhand.steps.explain_over import best, like_these
from evenhand.steps.explain_visits import Judged, every_visit_mean, noise_parts, runs_to_visits

RATE = Measure("rate", "Average", "frames per second", Better.HIGHER, Scale.LOG, 0.03, "", "")
SHARE = Measure("share", "Time below target", "% of the time", Better.LOWER, Scale.DIFFERENCE, 2.0, "", "")
LEVELS = {"A": ("off", "off"), "B": ("on", "off"), "C": ("off", "on"), "D": ("on", "on")}
NUMBER = re.compile(r"(?<![\w.])\d+(?:\.\d+)?(?:e[−+]\d+)?(?![\w.])")


@dataclass(frozen=True)
class Case:
    """A study that is judged and explained."""

    titles: int = 5
    setups: str = "ABCD"
    visits: int = 3
    rounds: bool | None = None
    measure: Measure = RATE
    scenes: tuple[str, ...] = ("",)
    missing: tuple[tuple[int, str, int], ...] = ()
    noisy: str = ""
    weights: tuple[float, ...] = ()


CASES = {
    "rounds": Case(),
    "no rounds": Case(rounds=False),
    "one title": Case(titles=1),
    "two titles": Case(titles=2, visits=2, rounds=False),
    "twelve titles": Case(titles=12, setups="AB", visits=4),
    "less is better": Case(measure=SHARE),
    "scenes": Case(scenes=("deck", "hold")),
    "a noisy setup": Case(titles=8, visits=4, noisy="D"),
    "weights": Case(weights=(3.0, 1.0, 1.0, 2.0, 0.5)),
    "missing visits": Case(rounds=False, missing=((0, "B", 2), (3, "D", 1), (3, "D", 2))),
    "rounds and missing visits": Case(visits=4, missing=((1, "C", 1),)),
}


def table(case: Case, seed: int = 12) -> list[Row]:
    rng = np.random.default_rng(seed)
    shared = rng.normal(0, 0.01, (len(case.setups), case.visits))
    steps = {"A": 0.0, "B": 0.012, "C": -0.05, "D": -0.11}
    made = []
    for t in range(case.titles):
        for c, setup in enumerate(case.setups):
            for v in range(case.visits):
                own = rng.normal(0, 0.012 * (6 if setup == case.noisy else 1))
                for scene in case.scenes:
                    for run in (1, 2):
                        x = steps[setup] * (t % 3) + shared[c, v] + own + rng.normal(0, 0.006)
                        value = 40 * (t + 1) * math.exp(x) if case.measure.scale is Scale.LOG else 30 + 40 * x
                        if (t, setup, v + 1) not in case.missing:
                            made.append(Row(f"title {t}", setup, v + 1, run, case.measure.key, value, scene))
    return made


def judged(case: Case) -> tuple[Judged, Judgement]:
    design = Design(
        tuple(case.setups),
        "A",
        (case.measure,),
        levels={s: dict(zip("xy", LEVELS[s], strict=True)) for s in case.setups},
        factors={"x": ("off", "on"), "y": ("off", "on")} if len(case.setups) == 4 else {},
        rounds=case.rounds,
        weights={f"title {t}": w for t, w in enumerate(case.weights)},
    )
    rows = table(case)
    judgement = judge(rows, design)
    read = read_runs(rows, design)
    found = judgement.measures[case.measure.key]
    analysis = analyse(visit_means(read, case.measure, design), design, found.rounds_used)
    return Judged(analysis, tuple(rows), tuple(str(v) for v in read.visits)), judgement


def ground(of: Judged, title: int | None = 0) -> Derivation:
    made = Derivation()
    if title is not None:
        runs_to_visits(made, of, title, range(len(of.setups)))
    every_visit_mean(made, of)
    noise_parts(made, of)
    return made


def whole(case: Case) -> tuple[list[Step], Judged, Judgement]:
    """Every kind of number of a study, in one long derivation."""
    of, judgement = judged(case)
    made = ground(of)
    derive(made, of, cell_contrast(of, 0, 1), verdict=False)
    derive(made, of, pair_at_title(of, 0, 1, 0))
    contrasts = [c.weights for c in factor_contrasts(of.analysis.design)[0]]
    for place in range(len(contrasts)):
        derive(made, of, effect_contrast(of, 0, contrasts, place, f"effect {place}"))
    over = pair_over_titles(of, 1, 0)
    derive(made, of, over)
    like_these(made, of, judgement.measures[case.measure.key], over)
    best(made, of, 0)
    return made.steps, of, judgement


def worth(text: str) -> float:
    """What an expression comes to, as a reader would put it into a pocket calculator."""
    plain = text.replace("−", "-").replace("×", "*").replace("^", "**").replace("√", "sqrt").replace("∞", "inf")
    return float(
        eval(plain, {"__builtins__": {}}, {n: getattr(math, n) for n in ("log", "exp", "sqrt", "inf")} | {"max": max, "min": min})
    )


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_every_sum_comes_out_and_its_numbers_stand_above_it(case: Case) -> None:
    steps, *_ = whole(case)
    printed: set[str] = set()
    sums = 0
    for step in steps:
        if step.put_in:
            sums += 1
            size = max([abs(worth(n)) for n in NUMBER.findall(step.put_in)], default=1.0)
            assert step.number is not None
            assert worth(step.put_in) == pytest.approx(step.number, rel=3e-4, abs=2e-5 * size), step
            strange = [n for n in NUMBER.findall(step.put_in) if "." in n and n not in printed and n not in ("0.03", "2.0")]
            assert not strange, (strange, step)
        if step.number is not None:
            assert step.value.startswith(figure(step.number))
            printed.add(figure(abs(step.number)))
    assert sums > 40


def found(steps: list[Step], what: str, part: str) -> float:
    [number] = [s.number for s in steps if s.what == what and s.part == part]
    assert number is not None
    return number


def near(interval: Interval, steps: list[Step], part: str, level: str) -> None:
    ends = [found(steps, f"{level}\N{NO-BREAK SPACE}% interval, {end} end", part) for end in ("low", "high")]
    assert ends == pytest.approx([interval.low, interval.high], rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_what_is_derived_is_what_was_judged(case: Case) -> None:
    steps, _, judgement = whole(case)
    shown = judgement.measures[case.measure.key]
    part = "B against A"
    here = [s for s in steps if s.part == part]
    at = next(c for c in shown.comparisons if (c.title, c.setup, c.against) == ("title 0", "B", "A"))
    over = next(o for o in shown.over if (o.setup, o.against) == ("B", "A"))
    half = next(i for i, s in enumerate(here) if s.what == "verdict") + 1
    for own, estimate, se, df, outer, inner, verdict in (
        (here[:half], at.estimate, at.se, at.df, at.simultaneous, at.inner, at.verdict),
        (here[half:], over.estimate, over.se_these, over.df_these, over.these, over.inner, over.verdict),
    ):
        assert found(own, f"estimate: {part}", part) == pytest.approx(estimate, rel=1e-9, abs=1e-12)
        assert found(own, "standard error", part) == pytest.approx(se, rel=1e-9)
        assert found(own, "degrees of freedom", part) == pytest.approx(df, rel=1e-9)
        near(outer, own, part, "95")
        near(inner, own, part, "90")
        assert next(s.value for s in own if s.what == "verdict").startswith(verdict.value)
    for place, effect in enumerate(e for e in shown.effects if e.title == "title 0"):
        name = f"effect {place}"
        assert found(steps, f"estimate: {name}", name) == pytest.approx(effect.estimate, rel=1e-9, abs=1e-12)
        near(effect.interval, [s for s in steps if s.part == name], name, "95")
    if over.like:
        wider = "titles like these, and one not tested"
        ends = [found(steps, f"titles like these, {end} end", wider) for end in ("low", "high")]
        assert ends == pytest.approx([over.like.low, over.like.high], rel=1e-9, abs=1e-12)
    if over.prediction:
        ends = [found(steps, f"a title not tested, {end} end", wider) for end in ("low", "high")]
        assert ends == pytest.approx([over.prediction.low, over.prediction.high], rel=1e-9, abs=1e-12)
    cell = next(c for c in shown.cells if (c.title, c.setup) == ("title 0", "B"))
    if not case.missing and case.measure.scale is Scale.LOG:
        ends = [found(steps, f"{end} end in {case.measure.unit}", "B") for end in ("low", "high")]
        assert ends == pytest.approx([cell.interval_low, cell.interval_high], rel=1e-9)
    told = {b.setup: b.may_be_best for b in shown.best if b.title == "title 0"}
    for setup, may in told.items():
        assert (found(steps, f"{setup}: least end", "which setups may be the best") > 0) is may


def visit_table(steps: list[Step], of: Judged) -> np.ndarray:
    """(T, C, V) from the printed steps."""
    means = np.full((len(of.titles), len(of.setups), len(of.visits)), np.nan)
    for step in steps:
        if told := re.fullmatch(r"M of (.+), (\w), visit (\d+)", step.what):
            means[of.titles.index(told[1]), of.setups.index(told[2]), of.visits.index(told[3])] = step.number
    return means


@pytest.mark.parametrize("name", ["rounds", "no rounds", "missing visits", "rounds and missing visits", "less is better"])
def test_the_noise_follows_from_the_visit_means_by_least_squares(name: str) -> None:
    """Sums of squares by regression (numpy.linalg.lstsq) of the printed visit means on cells, rounds and shared shifts."""
    steps, of, _ = whole(CASES[name])
    means = visit_table(steps, of)
    t, c, v = np.nonzero(~np.isnan(means))
    y = means[t, c, v]
    _, setups, visits = means.shape
    cells = np.equal.outer(t * setups + c, np.arange(means.shape[0] * setups)).astype(float)
    rounds = np.equal.outer(v, np.arange(visits)).astype(float)
    shifts = np.equal.outer(c * visits + v, np.arange(setups * visits)).astype(float)
    fixed = np.hstack([cells, rounds]) if of.analysis.layout.rounds else cells

    def residuals(columns: np.ndarray) -> np.ndarray:
        return y - columns @ np.linalg.lstsq(columns, y, rcond=None)[0]

    before, after = residuals(fixed), residuals(np.hstack([cells, shifts]))
    noise = "noise between visits"
    squares = float((before**2).sum() - (after**2).sum())
    scale = (
        found(steps, "its divisor", noise) if "missing" in name else means.shape[0] * found(steps, "f_Z", noise)
    )  # complete: T for each degree of freedom
    assert found(steps, "s²_Z", noise) * scale == pytest.approx(squares, rel=1e-6)
    own = "each title's own noise"
    for k, title in enumerate(of.titles):
        raw, d = found(steps, f"s² of {title}", own), found(steps, f"d of {title}", own)
        mine = float((after[t == k] ** 2).sum())
        if "missing" not in name:
            divisor = setups * (visits - 1) * (1 - 1 / means.shape[0])
            assert raw == pytest.approx(mine / divisor, rel=1e-6)
            assert d == pytest.approx(setups * (visits - 1), rel=1e-6)
        assert (raw > 0) is (mine > 1e-12)


def test_quantiles_are_those_of_general_tables() -> None:
    """Student's t and the studentised range of scipy.stats, at the degrees of freedom printed."""
    steps, *_ = whole(CASES["rounds"])
    first = [s for s in steps if s.part == "B against A"]
    df, q95, q90 = (
        next(s.number for s in first if s.what.replace("\N{NO-BREAK SPACE}", " ") == what)
        for what in ("degrees of freedom", "quantile, 95 %", "quantile, 90 %")
    )
    assert q90 == pytest.approx(stats.t.ppf(0.95, df), rel=1e-6)
    assert q95 == pytest.approx(stats.studentized_range.ppf(0.95, 4, df) / math.sqrt(2), rel=2e-3)
    low = next(s for s in steps if s.what == "behind, share of titles like these, high end")
    alpha, beta = (int(n) for n in re.search(r"Beta\((\d+), (\d+)\)", low.formula).groups())  # type: ignore[union-attr]
    assert low.number == pytest.approx(stats.beta.ppf(0.975, alpha, beta), rel=1e-9)


def test_one_visit_bears_no_interval_and_says_so() -> None:
    of, _ = judged(replace(CASES["rounds"], visits=1))
    made = ground(of)
    derive(made, of, pair_at_title(of, 0, 1, 0))
    told = {s.what: s.value for s in made.steps}
    assert "cannot be told apart" in told["noise"]
    assert told["degrees of freedom"].startswith("0")
    assert "verdict" not in told and "standard error" not in told


@pytest.mark.parametrize(
    ("effect", "words"),
    [
        (0.2, r"ahead beyond the margin: low end [\d.]+ ≥ 0.0295588"),
        (-0.2, r"behind beyond the margin: high end −[\d.]+ ≤ \(−0.0295588\)"),
        (0.0, r"level: \(−0.0295588\) < .* < 0.0295588: the inner interval lies inside the margin"),
        (0.03, r"ahead, by how much is open: low end [\d.]+ > 0, and [\d.]+ < 0.0295588"),
        (-0.03, r"behind, by how much is open: high end −[\d.]+ < 0, and −[\d.]+ > \(−0.0295588\)"),
        (None, r"open: −[\d.]+ ≤ 0 ≤ [\d.]+, and the inner interval .* leaves .*"),
    ],
)
def test_the_rule_that_holds_is_told_in_numbers(effect: float | None, words: str) -> None:
    rng = np.random.default_rng(4)
    noise = 0.1 if effect is None else 0.004
    rows = [
        Row("night", s, v, 1, "rate", 60 * math.exp((effect or 0.0) * (s == "B") + rng.normal(0, noise)))
        for s in "AB"
        for v in (1, 2, 3, 4, 5)
    ]
    design = Design(("A", "B"), "A", (RATE,))
    read = read_runs(rows, design)
    of = Judged(analyse(visit_means(read, RATE, design), design, False), tuple(rows), tuple(str(v) for v in read.visits))
    made = ground(of)
    derive(made, of, pair_at_title(of, 0, 1, 0))
    verdict = next(s.value for s in made.steps if s.what == "verdict")
    assert re.fullmatch(words, verdict), verdict


def test_lines_for_people_hold_every_step() -> None:
    made = Derivation(part="sums")
    made.add("x", "seen", 1.5)
    made.add("y", "seen", -2.25, unit="ms")
    made.add("z", "x + y", -0.75, "1.5 + (−2.25)")
    made.begin("words")
    made.say("verdict", "the rule", "open")
    sums, words = made.sections()
    assert sums.items == ("Seen: x = 1.5; y = −2.25 ms", "z (x + y): 1.5 + (−2.25) = −0.75")
    assert (words.heading, words.items) == ("Words", ("verdict (the rule): open",))
