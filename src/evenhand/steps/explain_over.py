"""What titles say of others and of the best: titles like these, one not tested, counts of titles, setups that may be the best."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from evenhand.judging.analysis import Analysis
from evenhand.judging.best import leads_at
from evenhand.judging.critical import t_quantile
from evenhand.judging.like import like_titles
from evenhand.judging.model import MeasureJudgement, TitleCounts, Verdict
from evenhand.measures.model import Better
from evenhand.steps.derivation import Derivation, figure, mean, signed, total
from evenhand.steps.explain_contrast import Contrast
from evenhand.steps.explain_visits import Judged
from evenhand.units import percent
from evenhand.writeup import sentences

Floats = npt.NDArray[np.float64]


def like_these(made: Derivation, judged: Judged, found: MeasureJudgement, contrast: Contrast) -> None:
    """The interval for titles like these, and for one title not tested; then the titles counted."""
    setup, against = (judged.setups[int(np.flatnonzero(contrast.weights == sign)[0])] for sign in (1, -1))
    over = next((o for o in found.over if {o.setup, o.against} == {setup, against}), None)
    titles = np.flatnonzero(contrast.votes)
    if over is None or over.like is None or len(titles) < 2:
        return
    effects = np.array([_difference(judged, contrast, int(t)) for t in titles])
    made.begin("titles like these, and one not tested")
    _like(made, judged.analysis, effects, contrast.votes[titles], (over.tau or 0.0) ** 2)
    counts = next((c for c in found.counts if (c.setup, c.against) == (setup, against)), None)
    if counts:
        made.begin("titles counted")
        _counts(made, found, counts)


def _difference(judged: Judged, contrast: Contrast, title: int) -> float:
    """The contrast at one of its titles."""
    votes = np.eye(len(judged.titles))[[title]]
    return float(judged.analysis.contrasts(judged.analysis.rows(votes, contrast.weights[None, :])).estimate[0, 0])


def _like(made: Derivation, analysis: Analysis, effects: Floats, votes: Floats, tau2: float) -> None:
    noise, k = analysis.noise, effects.size
    middle = float(effects.mean())
    made.add("mean difference", "of the titles, each alike", middle, mean([signed(float(e)) for e in effects]))
    spread = float(effects.var(ddof=1))
    squares = total(f"({figure(float(e))} − {signed(middle)})^2" for e in effects)
    made.add("S²", "variance of the titles' differences", spread, f"({squares}) / ({k} − 1)" if squares else "")
    votes2 = float((votes**2).sum())
    made.add("sum of squared votes", "1/T where every title has one", votes2, total(f"{figure(float(v))}^2" for v in votes))
    a = next(s.number or 0.0 for s in reversed(made.steps) if s.what == "a")
    found = like_titles(noise, effects[None, :], votes, a, np.array([tau2]))
    shift, s2z = float(noise.shift[0]), float(noise.total[0])
    own = made.add("titles' spread", "S² × sum of squared votes", spread * votes2, f"{figure(spread)} × {figure(votes2)}")
    visits = made.add("visits' shift", "a × σ²_V", a * shift, f"{figure(a)} × {figure(shift)}")
    put_in = f"{figure(a)} × ({figure(shift)} + {figure(s2z)}) / 2"
    made.add("visits' share", "a × the mean of σ²_V and s²_Z", a * (shift + s2z) / 2, put_in)
    ends = float(found.se[0]), float(found.df[0])
    _ends(made, analysis, "titles like these", (own, visits), (own, figure(own), k - 1), ends)
    if found.ahead_df[0] > 0:
        made.add("τ²", "variance between titles (restricted maximum likelihood)", tau2)
        wider = made.add("titles' spread and τ²", "sum", own + tau2, f"{figure(own)} + {figure(tau2)}")
        known = math.sqrt(wider * (own + spread)), f"√({figure(wider)} × ({figure(own)} + {figure(spread)}))", k - 2
        ends = float(found.ahead_se[0]), float(found.ahead_df[0])
        _ends(made, analysis, "a title not tested", (wider, visits), known, ends)


def _ends(
    made: Derivation,
    analysis: Analysis,
    name: str,
    parts: tuple[float, float],
    known: tuple[float, str, int],
    ends: tuple[float, float],
) -> None:
    """Standard error, degrees of freedom and both ends. parts : variance from titles and from visits. known : what the former is
    known by, in numbers, and its degrees of freedom. ends : standard error and degrees of freedom.
    """
    (own, visits), (by, by_numbers, f_t), (se, df) = parts, known, ends
    f_z, estimate, shared = analysis.noise.total_df, _number(made, "estimate: "), _number(made, "visits' share")
    made.add(f"variance, {name}", "titles' spread + visits' shift", own + visits, f"{figure(own)} + {figure(visits)}")
    there, variance = own + visits > 0, figure(own + visits)
    made.add(f"standard error, {name}", "√variance", se, f"√({variance})")
    w, u = (min(shared / (own + visits), 1.0), by / (own + visits)) if there else (1.0, 1.0)
    made.add(f"w, {name}", "share of the visits, at most 1", w, f"min({figure(shared)} / {variance}, 1)" if there else "")
    made.add(f"u, {name}", "share of the titles, as far as known", u, f"{by_numbers} / {variance}" if there else "")
    p, q = (
        made.add(f"{letter}, {name}", f"2 × {f} / ({f} + 2)", 2 * n / (n + 2), f"2 × {figure(n)} / ({figure(n)} + 2)")
        for letter, f, n in (("p", "f_Z", f_z), ("q", "f_T", float(f_t)))
    )
    how = "1 / max(w^p / f_Z, u^q / f_T, 1 / (f_Z + f_T)), at least 1"
    terms = f"{figure(w)}^{figure(p)} / {figure(f_z)}, {figure(u)}^{figure(q)} / {f_t}, 1 / ({figure(f_z)} + {f_t})"
    made.add(f"degrees of freedom, {name}", how, df, f"max(1 / max({terms}), 1)" if there else "")
    confidence = analysis.design.confidence
    critical = made.add(f"quantile, {name}", f"Student's t, {percent(100 * confidence, 0)}", float(t_quantile(df, confidence)))
    for end, sign in (("low", -1), ("high", 1)):
        put_in = f"{figure(estimate)} {'−' if sign < 0 else '+'} {figure(critical)} × {figure(se)}"
        made.add(f"{name}, {end} end", "estimate ± quantile × standard error", estimate + sign * critical * se, put_in)


def _number(made: Derivation, what: str) -> float:
    """The latest number whose name begins so."""
    return next(s.number for s in reversed(made.steps) if s.what.startswith(what) and s.number is not None)


def _counts(made: Derivation, found: MeasureJudgement, counts: TitleCounts) -> None:
    """Titles beyond the margin, and the exact binomial share."""
    for c in (c for c in found.comparisons if (c.setup, c.against) == (counts.setup, counts.against)):
        made.say(c.title, "its verdict", sentences.phrase(c, found.measure))
    ways = (
        ("behind", Verdict.BEHIND_BEYOND, counts.behind, counts.may_be_behind, counts.behind_share),
        ("ahead", Verdict.AHEAD_BEYOND, counts.ahead, counts.may_be_ahead, counts.ahead_share),
    )
    n = counts.titles
    for way, verdict, sure, maybe, share in ways:
        made.add(f"{way}, k", f"titles that are {verdict.value}", sure)
        made.add(f"{way}, k and perhaps", "and those that the interval does not exclude", sure + maybe, f"{sure} + {maybe}")
        level = percent(100 * share.confidence, 0)
        tail = (1 - share.confidence) / 2
        most = sure + maybe
        exact = f"exact binomial, {level} (Clopper & Pearson 1934)"
        low = f"{exact}: {figure(tail)} quantile of Beta({sure}, {n - sure + 1}); 0 for none"
        high = f"{exact}: {figure(1 - tail)} quantile of Beta({most + 1}, {n - most}); 1 for all"
        made.add(f"{way}, share of titles like these, low end", low, share.low)
        made.add(f"{way}, share of titles like these, high end", high, share.high)


def best(made: Derivation, judged: Judged, title: int | None) -> None:
    """Every setup against each other one: which cannot be told from the best (Hsu 1981)."""
    analysis = judged.analysis
    found = leads_at(analysis, title)
    made.begin("which setups may be the best")
    if found is None:
        made.say("may be the best", "needs two setups or more, and visits that can be told from setups", "cannot be told")
        return
    setups, lead, half, se = found
    turned = "less is better: signs turned round" if analysis.measure.better is Better.LOWER else "more is better"
    made.say("leads", f"differences on the scale, the better direction positive ({turned})", "each setup against each other one")
    for i, setup in enumerate(setups):
        others = [j for j in range(len(setups)) if j != i]
        names = [f"{judged.setups[setup]} over {judged.setups[setups[j]]}" for j in others]
        errors = [float(se[i, j]) for j in others]
        quantiles = [float(half[i, j]) / e if e > 0 else math.inf for j, e in zip(others, errors, strict=True)]
        for name, j in zip(names, others, strict=True):
            made.add(f"{name}: lead", "of the estimates", float(lead[i, j]))
        for name, error in zip(names, errors, strict=True):
            made.add(f"{name}: error", "standard error, as for every comparison", error)
        for name, quantile in zip(names, quantiles, strict=True):
            made.add(f"{name}: quantile", "one-sided, over all comparisons of this setup (largest of correlated t)", quantile)
        ends = [float(lead[i, j] + half[i, j]) for j in others]
        for name, j, error, quantile, end in zip(names, others, errors, quantiles, ends, strict=True):
            put_in = f"{figure(float(lead[i, j]))} + {figure(quantile)} × {figure(error)}"
            made.add(f"{name}: end", "lead + quantile × standard error", end, put_in)
        least = min(ends)
        name = judged.setups[setup]
        made.add(f"{name}: least end", "of its ends against the others", least, f"min({', '.join(map(figure, ends))}, ∞)")
        said = "may be the best" if least > 0 else "is not the best: behind another by more than chance"
        made.say(name, "may be the best where the least end is above 0", said)
