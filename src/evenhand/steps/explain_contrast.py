"""The second half of a derivation: one comparison, from its estimate over its variance to its interval and verdict."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from evenhand.judging.analysis import interval
from evenhand.judging.critical import alike_visits, pairs_quantile, t_quantile
from evenhand.judging.decide import decide
from evenhand.judging.effects import title_weights, visits_at
from evenhand.judging.family import family_quantiles
from evenhand.judging.model import Interval, Verdict
from evenhand.judging.noise import VarianceParts, variance_parts
from evenhand.judging.pairs import pair_weights, pairs_of
from evenhand.measures.model import Better
from evenhand.steps.derivation import Derivation, figure, mean, signed, total
from evenhand.steps.explain_visits import Judged
from evenhand.units import percent, percent_of_log
from evenhand.wording import counted
from evenhand.writeup import sentences
from evenhand.writeup.model import Table

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Contrast:
    """What is compared. name : in words. votes : (T,), weights of the titles. weights : (C,), of the setups; a cell has one 1.

    critical : quantile of the interval that decides, and `family`, what it comes from.
    """

    name: str
    votes: Floats
    weights: Floats
    critical: float
    family: str

    @property
    def title(self) -> int | None:
        """The one title that it is of."""
        at = np.flatnonzero(self.votes)
        return int(at[0]) if at.size == 1 else None


def pair_at_title(judged: Judged, title: int, setup: int, against: int) -> Contrast:
    """Two setups at a title; the interval holds for all pairs of the title."""
    analysis = judged.analysis
    pairs = [p for p in pairs_of(analysis.design) if analysis.layout.cells[title, list(p)].all()]
    rows = _rows(judged, np.eye(len(judged.titles))[[title] * len(pairs)], pair_weights(pairs, len(judged.setups)))
    found = analysis.contrasts(rows)
    critical = analysis.title_quantiles(np.full(len(pairs), title), rows, found.df)[0]
    here = next(i for i, p in enumerate(pairs) if set(p) == {setup, against})
    names = f"{judged.setups[setup]} against {judged.setups[against]}"
    count = int(analysis.layout.cells[title].sum())
    if alike_visits(analysis.layout)[title]:
        family = f"studentised range of {count} setups / √2: holds for all pairs of the title"
    else:
        family = "largest |t| of all pairs of the title (single-step), by their correlation: visits are missing"
    weights = pair_weights([(setup, against)], len(judged.setups))[0]
    return Contrast(names, np.eye(len(judged.titles))[title], weights, float(critical[here]), family)


def pair_over_titles(judged: Judged, setup: int, against: int) -> Contrast:
    """Two setups over the titles that have both."""
    analysis = judged.analysis
    weights = pair_weights([(setup, against)], len(judged.setups))
    votes = title_weights(analysis, None, weights)[0]
    df = analysis.contrasts(_rows(judged, votes[None, :], weights)).df[0, 0]
    critical = float(pairs_quantile(analysis.setups, df, analysis.design.confidence))
    family = f"studentised range of {analysis.setups} setups / √2: holds for all pairs"
    return Contrast(f"{judged.setups[setup]} against {judged.setups[against]}", votes, weights[0], critical, family)


def effect_contrast(judged: Judged, title: int | None, every: Sequence[Floats], place: int, name: str) -> Contrast:
    """A factor's effect, one (`place`) of `every` (C,) that can be estimated there; the interval holds for all of them."""
    analysis, weights = judged.analysis, np.array(every)
    votes = title_weights(analysis, title, weights)
    df = analysis.contrasts(_rows(judged, votes, weights)).df[0]
    critical = family_quantiles(weights, visits_at(analysis, title), df, analysis.design.confidence)
    family = f"largest |t| of {counted(len(every), 'effect')} (single-step), by their correlation"
    return Contrast(name, votes[place], weights[place], float(critical[place]), family if len(every) > 1 else "Student's t")


def cell_contrast(judged: Judged, title: int, setup: int) -> Contrast:
    """One setup at one title by itself."""
    weights = np.eye(len(judged.setups))[setup]
    votes = np.eye(len(judged.titles))[title]
    df = judged.analysis.contrasts(_rows(judged, votes[None, :], weights[None, :])).df[0, 0]
    return Contrast(judged.setups[setup], votes, weights, float(t_quantile(df, judged.analysis.design.confidence)), "Student's t")


def _rows(judged: Judged, votes: Floats, weights: Floats) -> Floats:
    return judged.analysis.rows(votes, weights)


def derive(made: Derivation, judged: Judged, contrast: Contrast, *, verdict: bool = True) -> None:
    """Write down a contrast: estimate, variance, degrees of freedom, interval, and what the verdict is."""
    analysis = judged.analysis
    row = _rows(judged, contrast.votes[None, :], contrast.weights[None, :])
    made.begin(contrast.name)
    estimate = _estimate(made, judged, contrast, row[0])
    if not analysis.told:
        made.say("degrees of freedom", "one visit a setup: visits and setups cannot be told apart", "0: no interval, no verdict")
        return
    parts = variance_parts(analysis.layout, analysis.noise, row)
    se, df = _variance(made, judged, contrast, parts, row[0])
    outer = _interval(made, estimate, se, contrast.critical, analysis.design.confidence, contrast.family)
    if verdict:
        alone = float(t_quantile(df, analysis.design.inner))
        inner = _interval(made, estimate, se, alone, analysis.design.inner, "Student's t of this comparison alone")
        _verdict(made, judged, outer, inner)
    _back(made, judged, estimate, outer, contrast)


def _estimate(made: Derivation, judged: Judged, contrast: Contrast, row: Floats) -> float:
    """Σ votes × Σ weights × cell means; with missing visits a weighted sum of visit means."""
    analysis = judged.analysis
    estimate = float(analysis.means[0] @ row)
    titles, setups = np.flatnonzero(contrast.votes), np.flatnonzero(contrast.weights)
    cells = {(int(t), int(c)): judged.cell(int(t), int(c)) for t in titles for c in setups}
    plain = sum(contrast.votes[t] * contrast.weights[c] * m for (t, c), m in cells.items())
    if not math.isclose(plain, estimate, rel_tol=1e-9, abs_tol=1e-11):
        _weights(made, judged, row)
        how = "sum of weights × visit means: generalised least squares, as visits are missing"
        for t in titles.tolist() if len(titles) > 1 else []:
            alone = _rows(judged, np.eye(len(judged.titles))[[t]], contrast.weights[None, :])
            made.add(f"at {judged.titles[t]}", "its difference, by its own weights", float(analysis.means[0] @ alone[0]))
            made.add(f"vote of {judged.titles[t]}", "its weight over the sum of weights", float(contrast.votes[t]))
        return made.add(f"estimate: {contrast.name}", how, estimate)
    if (np.abs(contrast.weights[setups]) != 1).any():
        for c in setups.tolist():
            made.add(f"weight of {judged.setups[c]}", "from the levels of its factors", float(contrast.weights[c]))
    told = []
    for t in titles.tolist():
        where = f" at {judged.titles[t]}" if len(titles) > 1 else ""
        terms = []
        for c in setups.tolist():
            visits = len(judged.present(t, c))
            how = f"mean of {counted(visits, 'visit mean')}"
            means = [figure(float(analysis.visits.means[t, c, v])) for v in judged.present(t, c)]
            made.add(f"mean of {judged.setups[c]}{where}", how, cells[t, c], f"({total(means)}) / {visits}")
            weight = contrast.weights[c]
            terms.append(_term(float(weight), cells[t, c]))
        if len(titles) > 1:
            value = sum(float(contrast.weights[c]) * cells[t, c] for c in setups.tolist())
            made.add(f"at {judged.titles[t]}", "its difference", value, total(terms))
            made.add(f"vote of {judged.titles[t]}", "its weight over the sum of weights", float(contrast.votes[t]))
            told.append(f"{figure(float(contrast.votes[t]))} × {signed(value)}")
        else:
            told = terms
    how = "sum of votes × differences" if len(titles) > 1 else "sum of weights × means of the setups"
    return made.add(f"estimate: {contrast.name}", how, estimate, total(told))


def _term(weight: float, value: float) -> str:
    if weight == 1.0:
        return signed(value)
    return f"({figure(weight)}) × {signed(value)}"


def _weights(made: Derivation, judged: Judged, row: Floats) -> None:
    """The weight of every visit mean, as a table and as steps."""
    layout, part = judged.analysis.layout, f"weights of the visit means, {made.part}"
    at = sorted({(int(c), int(v)) for c, v in zip(layout.setup, layout.visit, strict=True)})
    place = {(int(t), int(c), int(v)): float(w) for t, c, v, w in zip(layout.title, layout.setup, layout.visit, row, strict=True)}
    body = tuple(
        (name, *(figure(place[t, c, v]) if (t, c, v) in place else "–" for c, v in at)) for t, name in enumerate(judged.titles)
    )
    back = made.part
    head = ("title", *(f"{judged.setups[c]} v{judged.visits[v]}" for c, v in at))
    made.begin(part, Table(head, body, (False, *(True for _ in at)), part))
    for (t, c, v), weight in place.items():
        what = f"weight of {judged.titles[t]}, {judged.setups[c]}, visit {judged.visits[v]}"
        made.add(what, "generalised least squares with σ²_V = ω²", weight)
    made.begin(back)


def _variance(made: Derivation, judged: Judged, contrast: Contrast, parts: VarianceParts, row: Floats) -> tuple[float, float]:
    """(standard error, degrees of freedom)."""
    a, s2z = float(parts.shift_weight[0]), float(judged.analysis.noise.total[0])
    visits = judged.analysis.layout.present.any(axis=0).sum(axis=1)
    plain = [(float(w), int(visits[c])) for c, w in enumerate(contrast.weights) if w]
    even = math.isclose(sum(w * w / n for w, n in plain), a, rel_tol=1e-9)
    how = "weight of what visits share: sum over visits of (sum of the visit's weights)²"
    made.add("a", how, a, total(f"{signed(w)}^2 / {n}" for w, n in plain) if even else "")
    own, shared = _ratios(made, judged, parts, row)
    from_visits = float(parts.from_visits[0, 0])
    made.add(
        "visits' part", f"a × s²_Z{' × shared ratio' if shared else ''}", from_visits, f"{figure(a)} × {figure(s2z)}{shared}"
    )
    added, taken = _titles_part(made, judged, parts, own)
    variance = float(parts.variance[0, 0])
    put_in = f"{figure(added)} + max({figure(from_visits)} + {signed(taken)}, 0)"
    made.add("variance", "titles' part + max(visits' part + taken, 0)", variance, put_in)
    se = made.add("standard error", "√variance", math.sqrt(variance), f"√({figure(variance)})")
    return se, _degrees_of_freedom(made, judged, parts)


def _ratios(made: Derivation, judged: Judged, parts: VarianceParts, row: Floats) -> tuple[str, str]:
    """The factors ` × 1.2` of the own and of the shared part where setups are unlike; empty where they are alike."""
    noise, layout = judged.analysis.noise, judged.analysis.layout
    if (noise.setups == 1.0).all():
        return "", ""
    squares = np.bincount(layout.setup, row**2, len(judged.setups))
    used = np.flatnonzero(squares)
    above = total(f"{figure(float(squares[c]))} × {figure(float(noise.setups[0, c]))}" for c in used)
    below = total(figure(float(squares[c])) for c in used)
    for c in used:
        made.add(f"squares of {judged.setups[c]}", "sum of the squared weights of its visits", float(squares[c]))
    own = made.add(
        "own ratio", "mean of the setups' ratios, weighted by these", float(parts.own_ratio[0, 0]), f"({above}) / ({below})"
    )
    shift, taken = figure(float(noise.shift[0])), figure(float(noise.own[0] @ layout.own_in_shift))
    put_in = f"({shift} + {figure(own)} × {taken}) / ({shift} + {taken})"
    how = "(σ²_V + own ratio × titles' part of s²_Z) / (σ²_V + titles' part of s²_Z)"
    shared = made.add("shared ratio", how, float(parts.shift_ratio[0, 0]), put_in)
    return f" × {figure(own)}", f" × {figure(shared)}"


def _titles_part(made: Derivation, judged: Judged, parts: VarianceParts, times: str) -> tuple[float, float]:
    """Σ c_t ω²_t: the positive terms add to the variance, the negative ones take from the visits' part what is in it twice."""
    weights, own = parts.own_weights[0], judged.analysis.noise.own[0]
    mine = [t for t in range(own.size) if weights[t] and own[t]]
    for t in mine:
        how = "sum of the squared weights of the title's visits − a × what s²_Z holds of ω²"
        made.add(f"c of {judged.titles[t]}", how, float(weights[t]))
    terms = {t: f"{signed(float(weights[t]))} × {figure(float(own[t]))}" for t in mine}
    sums = []
    for name, how, keep, value in (
        ("titles' part", "sum of c × ω² where c is above 0", 1, float(parts.from_titles[0, 0])),
        ("taken", "the same where c is below 0: noise of titles that s²_Z holds already", -1, float(parts.taken[0, 0])),
    ):
        summed = total(term for t, term in terms.items() if np.sign(weights[t]) == keep)
        made.add(name, how, value, f"({summed}){times}" if summed else "")
        sums.append(value)
    return sums[0], sums[1]


def _degrees_of_freedom(made: Derivation, judged: Judged, parts: VarianceParts) -> float:
    from_visits, variance = float(parts.from_visits[0, 0]), float(parts.variance[0, 0])
    share = float(parts.share[0, 0])
    put_in = f"min({figure(from_visits)} / {figure(variance)}, 1)" if variance > 0 else ""
    made.add("w", "share of the visits' part, at most 1", share, put_in)
    noise = judged.analysis.noise
    unsure = float(parts.unsure[0, 0])
    if unsure:
        made.add("doubt of the own ratio", "its relative variance, from the degrees of freedom of the setups", unsure)
    f_z = float(parts.shift_df[0, 0])
    if (noise.setups != 1.0).any():
        how = "1 / (1 / (f_Z × mean / √(mean square) of σ²_V + ratio × titles' part) + doubt × (their share)²)"
        f_z = made.add("f_Z, setups unlike", how, f_z, _evened(judged, parts))
    f_own = float(parts.own_df[0, 0])
    how = f"of the titles' part: Satterthwaite, at most sum of d × (1 − 1 / T){', with the doubt' if unsure else ''}"
    if judged.analysis.layout.own_df.any():
        made.add("sum of d", "degrees of freedom of all titles' residuals", float(judged.analysis.layout.own_df.sum()))
    plain = _satterthwaite(judged, parts)
    made.add("f_own", how, f_own, f"1 / (1 / {plain} + {figure(unsure)})" if plain and unsure else plain)
    powers = [
        made.add(name, f"2 × {f} / ({f} + 2)", 2 / (1 + 2 / n), f"2 / (1 + 2 / {figure(n)})" if math.isfinite(n) else "")
        for name, f, n in (("p", "f_Z", f_z), ("p_own", "f_own", f_own))
    ]
    df = float(parts.df[0, 0])
    terms = [f"{figure(share)}^{figure(powers[0])} / {figure(f_z)}"]
    if math.isfinite(f_own):
        terms += [f"(1 − {figure(share)})^{figure(powers[1])} / {figure(f_own)}", f"1 / ({figure(f_z)} + {figure(f_own)})"]
    how = "1 / max(w^p / f_Z, (1 − w)^p_own / f_own, 1 / (f_Z + f_own))"
    return made.add("degrees of freedom", how, df, f"1 / max({', '.join([*terms, '0'])})")


def _satterthwaite(judged: Judged, parts: VarianceParts) -> str:
    """(Σ c ω²)² / Σ (c ω²)² / f, at most the degrees of freedom of all titles' residuals together, in numbers."""
    noise, d = judged.analysis.noise, judged.analysis.layout.own_df
    mine = [t for t in range(d.size) if parts.own_weights[0, t] > 0 and noise.own[0, t] > 0]
    each = [f"{figure(float(parts.own_weights[0, t]))} × {figure(float(noise.own[0, t]))}" for t in mine]
    above, below = total(each), total(f"({x})^2 / {figure(float(noise.own_df[0, t]))}" for x, t in zip(each, mine, strict=True))
    count = int(np.count_nonzero(d))
    if not above or not count:
        return ""
    return f"min(({above})^2 / ({below}), {figure(float(d.sum()))} × (1 − 1 / {max(count, 2)}))"


def _evened(judged: Judged, parts: VarianceParts) -> str:
    """f_Z × mean / root mean square of the setups' shared noise, less for the doubt of their ratio, in numbers."""
    noise, layout = judged.analysis.noise, judged.analysis.layout
    shift, taken = figure(float(noise.shift[0])), figure(float(noise.own[0] @ layout.own_in_shift))
    each = [f"({shift} + {figure(float(noise.setups[0, c]))} × {taken})" for c in np.flatnonzero(layout.cells.any(axis=0))]
    mean_square = mean([f"{part}^2" for part in each])
    even = f"{figure(noise.total_df)} × ({mean(each)}) / √({mean_square})"
    unsure, own = float(parts.unsure[0, 0]), f"{figure(float(parts.own_ratio[0, 0]))} × {taken}"
    return f"1 / (1 / ({even}) + {figure(unsure)} × ({own} / ({shift} + {own}))^2)" if unsure else even


def _interval(made: Derivation, estimate: float, se: float, critical: float, confidence: float, family: str) -> Interval:
    level = percent(100 * confidence, 0)
    made.add(f"quantile, {level}", family, critical)
    found = interval(estimate, se * critical, confidence)
    for name, end, sign in (("low", found.low, "−"), ("high", found.high, "+")):
        put_in = f"{figure(estimate)} {sign} {figure(critical)} × {figure(se)}"
        made.add(f"{level} interval, {name} end", f"estimate {sign} quantile × standard error", end, put_in)
    return found


def _verdict(made: Derivation, judged: Judged, outer: Interval, inner: Interval) -> None:
    analysis = judged.analysis
    m = analysis.margin
    stated = analysis.design.margins.get(analysis.measure.key, analysis.measure.margin)
    made.add("margin", "smallest difference that matters, as the study states it", stated)
    made.add("m", "margin on the scale", m, f"log(1 + {figure(stated)})" if judged.log else figure(stated))
    turned = analysis.measure.better is Better.LOWER
    lows = [(-i.high, -i.low) if turned else (i.low, i.high) for i in (outer, inner)]
    found = decide(outer, inner, m, analysis.measure.better)
    how = "first rule that holds, the better direction positive" + (" (less is better: ends turned round)" if turned else "")
    made.say("verdict", how, f"{sentences.word(found)}: {_rule(found, lows[0], lows[1], m)}")


def _rule(verdict: Verdict, outer: tuple[float, float], inner: tuple[float, float], margin: float) -> str:
    """The inequality that holds, in numbers."""
    (low, high), m = (figure(x) for x in outer), figure(margin)
    if verdict is Verdict.LEVEL:
        return f"{signed(-margin)} < {figure(inner[0])} and {figure(inner[1])} < {m}: the inner interval lies inside the margin"
    if verdict is Verdict.AHEAD_BEYOND:
        return f"low end {low} ≥ {m}"
    if verdict is Verdict.BEHIND_BEYOND:
        return f"high end {high} ≤ {signed(-margin)}"
    if verdict is Verdict.AHEAD:
        return f"low end {low} > 0, and {low} < {m}"
    if verdict is Verdict.BEHIND:
        return f"high end {high} < 0, and {high} > {signed(-margin)}"
    return f"{low} ≤ 0 ≤ {high}, and the inner interval {figure(inner[0])} to {figure(inner[1])} leaves {signed(-margin)} to {m}"


def _back(made: Derivation, judged: Judged, estimate: float, outer: Interval, contrast: Contrast) -> None:
    """What the numbers on the scale are to people."""
    if not judged.log:
        return
    single = contrast.weights.sum() != 0
    for name, value in (("estimate", estimate), ("low end", outer.low), ("high end", outer.high)):
        if single:
            made.add(
                f"{name} in {judged.analysis.measure.unit}",
                "back from logarithms",
                math.exp(min(value, 700)),
                f"exp({figure(value)})",
            )
        elif math.isfinite(value):
            made.add(f"{name} in %", "back from logarithms", percent_of_log(value), f"100 × (exp({figure(value)}) − 1)", "%")
