"""The only file that words a verdict.

A verdict is a phrase with its interval in brackets; it never says more than the verdict bears. "Ahead" and "behind" follow the
better direction of the measure, the numbers in brackets are sizes. A per cent is always of the setup compared with, which stands
in the same sentence or at the head of the column. Printed numbers obey the two laws of `units`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final, TypeAlias

from evenhand import wording
from evenhand.judging.model import AgainstBest, Comparison, Effect, Interval, OverTitles, TitleCounts, Verdict
from evenhand.measures.model import Better, Measure, Scale
from evenhand.units import NO_BREAK, decimals_for, number, percent, percent_of_log, rounded

Found: TypeAlias = Comparison | OverTitles

AHEAD: Final = frozenset({Verdict.AHEAD, Verdict.AHEAD_BEYOND})
BEHIND: Final = frozenset({Verdict.BEHIND, Verdict.BEHIND_BEYOND})

#: Verdicts in the order in which they are told: what is certain and large first.
TOLD: Final = (
    Verdict.BEHIND_BEYOND,
    Verdict.BEHIND,
    Verdict.AHEAD_BEYOND,
    Verdict.AHEAD,
    Verdict.LEVEL,
    Verdict.OPEN,
    Verdict.UNTOLD,
)

_STEMS: Final[Mapping[Verdict, str]] = {
    Verdict.AHEAD_BEYOND: "ahead beyond the margin",
    Verdict.AHEAD: "ahead, by how much is open",
    Verdict.BEHIND_BEYOND: "behind beyond the margin",
    Verdict.BEHIND: "behind, by how much is open",
    Verdict.LEVEL: "level",
    Verdict.OPEN: "open",
    Verdict.UNTOLD: "no verdict",
}

_CLAUSES: Final[Mapping[Verdict, str]] = {
    Verdict.AHEAD_BEYOND: "ahead of {base} beyond the margin",
    Verdict.AHEAD: "ahead of {base}, by how much is open",
    Verdict.BEHIND_BEYOND: "behind {base} beyond the margin",
    Verdict.BEHIND: "behind {base}, by how much is open",
    Verdict.LEVEL: "level with {base}",
    Verdict.OPEN: "not settled against {base}",
    Verdict.UNTOLD: "without a verdict against {base}",
}


def named(labels: Sequence[str]) -> str:
    """Names in a row. Names that hold a comma themselves are joined by "and" throughout, so that each stays whole."""
    return " and ".join(labels) if any("," in label for label in labels) else wording.listed(labels)


def word(verdict: Verdict) -> str:
    """The verdict alone, for a narrow column."""
    return _STEMS[verdict]


def short(found: Found, measure: Measure) -> str:
    """The estimate with the verdict in one or two words, for a cell of a wide table: `−3.5 % behind, beyond`."""
    stem = _STEMS[found.verdict].replace(" beyond the margin", ", beyond").replace(", by how much is open", "")
    return f"{change(found.estimate, error_of(found), measure)} {stem}"


def phrase(found: Found, measure: Measure) -> str:
    """The verdict of a setup against another, with what it rests on in brackets.

    `behind, by how much is open (1 to 6 %)`, `level (within 1.2 %)`, `ahead by less than matters (0.3 to 1.9 %)`,
    `open, but not more than 1.2 % behind (up to 6 % ahead)`, `no verdict: 4 % behind in these runs; holds unless …`.
    """
    if found.verdict is Verdict.LEVEL and found.leaning:
        return f"{_lean(found)} by less than matters ({reach(found, measure)})"
    if found.verdict is Verdict.OPEN:
        return _open(found, measure)
    if found.verdict is Verdict.UNTOLD:
        return f"no verdict: {_untold(found, measure)}"
    return f"{_STEMS[found.verdict]} ({reach(found, measure)})"


def _lean(found: Found) -> str:
    return "ahead" if found.leaning > 0 else "behind"


def reach(found: Found, measure: Measure) -> str:
    """What the interval that decided leaves possible: `1 to 6 %`, `within 1.2 %`, `4 % behind to 9 % ahead`."""
    low, high = _sided(decisive(found), measure)
    printer = _Printer(measure, error_of(found), found.margin)
    if math.isinf(low):
        return "these runs set no bounds"
    if found.verdict is Verdict.LEVEL and not found.leaning:
        return f"within {printer.size(max(abs(low), abs(high)))}"
    if found.verdict is not Verdict.LEVEL and low * high >= 0:
        return printer.between(abs(low), abs(high))
    if found.verdict is Verdict.LEVEL:
        ends = sorted((low, high)) if found.leaning > 0 else sorted((-low, -high))
        return printer.between(max(ends[0], 0.0), ends[1])
    return f"{printer.side(low)} to {printer.side(high)}"


def decisive(found: Found) -> Interval:
    """The interval that the verdict rests on: pair by pair for level, else simultaneous."""
    if found.verdict is Verdict.LEVEL:
        return found.inner
    return found.these if isinstance(found, OverTitles) else found.simultaneous


def error_of(found: Found) -> float:
    """Standard error of the estimate, on the measure's scale."""
    return found.se_these if isinstance(found, OverTitles) else found.se


def change(value: float, se: float, measure: Measure) -> str:
    """A signed difference as a number: `−3.5 %`, `+0.4 a minute`; the sign is that of the value, not of the better direction."""
    printer = _Printer(measure, se, 0.0)
    return printer.signed(printer.shown(value))


def signed_interval(interval: Interval, se: float, measure: Measure, margin: float) -> str:
    """`−4.4 to −2.7 %`."""
    printer = _Printer(measure, se, margin)
    low, high = printer.shown(interval.low), printer.shown(interval.high)
    if not (math.isfinite(low) and math.isfinite(high)):
        return "no bounds"
    same = printer.alike(low, high)
    return f"{same.bare(low)} to {same.signed(high)}"


def span_words(interval: Interval, measure: Measure, margin: float) -> str:
    """An interval on one side of zero as sizes: `6 to 11 %`."""
    low, high = (_shown(e, measure) for e in (interval.low, interval.high))
    return _Printer(measure, (interval.high - interval.low) / 2, margin).between(abs(low), abs(high))


def settling(found: Found | Sequence[Found]) -> str:
    """What would settle what is open: `about 2 more visits a setup would be expected to settle it`; empty where nothing can be
    said.
    """
    many = [found] if isinstance(found, (Comparison, OverTitles)) else list(found)
    visits = sorted(f.visits_to_settle for f in many if f.visits_to_settle)
    if not visits:
        return ""
    if len(many) == 1:
        return f"about {wording.counted(visits[0], 'more visit')} a setup would be expected to settle it"
    half = visits[(len(visits) - 1) // 2]
    return f"about {wording.counted(half, 'more visit')} a setup would be expected to settle half of them"


def clauses(found: Sequence[Found], names: Mapping[str, str], base: str, measure: Measure, brackets: bool = True) -> str:
    """Several setups against one, told together: `B is behind A beyond the margin (3 to 4 %); C and D are level with it`."""
    told: list[str] = []
    for verdict in TOLD:
        own = [f for f in found if f.verdict is verdict]
        if not own:
            continue
        labels = [f"{names[f.setup]} ({reach_or_tipping(f, measure)})" if brackets else names[f.setup] for f in own]
        verb = "is" if len(own) == 1 else "are"
        told.append(f"{named(labels)} {verb} {_CLAUSES[verdict].format(base='it' if told else base)}")
    return "; ".join(told)


def reach_or_tipping(found: Found, measure: Measure) -> str:
    """What stands in brackets after a setup's name."""
    if found.verdict is Verdict.UNTOLD:
        return _untold(found, measure).replace(" in these runs; holds unless", " unless").replace(" in these runs", "")
    if found.verdict is Verdict.LEVEL and found.leaning:
        return f"{reach(found, measure)} {_lean(found)}"
    return reach(found, measure)


def headline(found: Sequence[Found], names: Mapping[str, str], base: str) -> str:
    """The situation in one short sentence without numbers."""
    if not found:
        return f"nothing could be compared with {base}"
    kinds = {f.verdict for f in found}
    if kinds == {Verdict.UNTOLD}:
        return f"one visit a setup bears no verdict against {base}"
    if kinds == {Verdict.LEVEL} and len(found) > 1:
        return f"all setups are level with {base}"
    if kinds == {Verdict.OPEN} and len(found) > 1:
        return f"against {base} nothing is settled yet"
    told: list[str] = []
    for verdict in TOLD:
        own = [names[f.setup] for f in found if f.verdict is verdict]
        if own:
            who = named(own) if len(own) <= 3 else f"{len(own)} setups"
            verb = "is" if len(own) == 1 else "are"
            told.append(f"{who} {verb} {_CLAUSES[verdict].format(base='it' if told else base)}")
    return "; ".join(told[:3])


def counts(
    found: Sequence[Comparison], verdict: Verdict, setups: Mapping[str, str], titles: Mapping[str, str], measure: Measure
) -> str:
    """In how many titles setups have a verdict, and where most: `2 are behind beyond the margin under B and 5 under C (farthest:
    Night Ferry under C, 20.7 to 22.9 %)`. Empty where none has it.
    """
    own = [c for c in found if c.verdict is verdict]
    if not own:
        return ""
    farthest = max(own, key=lambda c: abs(c.estimate))
    numbers = {setup: sum(c.setup == setup for c in own) for setup in setups if any(c.setup == setup for c in own)}
    parts = [f"{number} under {setups[setup]}" for setup, number in numbers.items()]
    verb = "is" if next(iter(numbers.values())) == 1 else "are"
    first = parts[0].replace(" under", f" {verb} {_STEMS[verdict]} under", 1)
    where = f"{titles[farthest.title]} under {setups[farthest.setup]}" if len(numbers) > 1 else titles[farthest.title]
    far = f"farthest: {where}" if len(own) > 1 else where
    return f"{wording.listed([first, *parts[1:]])} ({far}, {reach(farthest, measure)})"


def beyond(found: TitleCounts, ahead: bool) -> str:
    """Titles beyond the margin, and in brackets the share among titles like these: `3 of 12, perhaps 1 more (5 to 65 %)`."""
    sure, maybe, share = (
        (found.ahead, found.may_be_ahead, found.ahead_share) if ahead else (found.behind, found.may_be_behind, found.behind_share)
    )
    more = f", perhaps {maybe} more" if maybe else ""
    return f"{sure} of {found.titles}{more} ({number(100 * share.low)} to {percent(100 * share.high, 0)})"


def middle(found: TitleCounts, measure: Measure) -> str:
    """Where the titles lie: `−1.1 %; half of them −2.3 to −0.2 %`."""
    _, low, median, high, _ = found.quantiles
    printer = _Printer(measure, (high - low) / 10, 0.0)
    low, median, high = (printer.shown(v) for v in (low, median, high))
    return f"{printer.signed(median)}; half of them {printer.bare(low)} to {printer.signed(high)}"


def best(found: Sequence[AgainstBest], names: Mapping[str, str]) -> str:
    """Which setups may be the best: `A`, `A or B`, `any of the 4 setups`; empty where nothing can be told."""
    may = [names[b.setup] for b in found if b.may_be_best]
    if len(may) == len(found) and len(may) > 2:
        return f"any of the {len(may)} setups"
    return " or ".join(may) if any("," in name for name in may) else wording.listed(may, "or")


def effect(found: Effect, name: str, measure: Measure) -> str:
    """What a factor does, or how far two need each other: `65 W instead of 45 W: +4.1 % (+3.0 to +5.2 %), beyond the margin`."""
    return f"{name}: {effect_words(found, measure)}"


def effect_words(found: Effect, measure: Measure) -> str:
    """The same without its name."""
    numbers = f"{change(found.estimate, found.se, measure)} ({signed_interval(found.interval, found.se, measure, found.margin)})"
    return f"{numbers}, {_bearing(found)}"


def together(main: Sequence[Effect], joint: Effect) -> str:
    """What an interaction of two factors means, said only where its interval bears it; empty where it does not."""
    if joint.verdict is Verdict.LEVEL:
        return "Neither depends on the other by more than the margin."
    if joint.verdict not in AHEAD | BEHIND:
        return "Whether they need each other is open."
    helps = all(e.verdict in AHEAD for e in main)
    if helps and joint.verdict in BEHIND:
        return "Each makes up for the other's absence; having both brings less than the sum."
    if helps and joint.verdict in AHEAD:
        return "They need each other: both bring more than the sum of each alone."
    return "What one does depends on the level of the other."


def disagreement(shown: Verdict, other: Verdict) -> str:
    """Two verdicts of one comparison: `“level” becomes “open”`."""
    return f"“{_STEMS[shown]}” becomes “{_STEMS[other]}”"


def margin_words(measure: Measure, margin: float) -> str:
    """The margin as people set it: `3 %`, `1 a minute`."""
    if measure.scale is Scale.LOG:
        return f"{number(percent_of_log(margin), 1).removesuffix('.0')}{NO_BREAK}%"
    return f"{margin:g} {measure.unit}"


def _bearing(found: Effect) -> str:
    if found.verdict is Verdict.LEVEL:
        return "less than matters"
    if found.verdict in (Verdict.AHEAD_BEYOND, Verdict.BEHIND_BEYOND):
        return "beyond the margin"
    if found.verdict is Verdict.UNTOLD:
        return "without a verdict"
    return "open" if found.verdict is Verdict.OPEN else "sure of its direction, not of its size"


def _open(found: Found, measure: Measure) -> str:
    """Also an open verdict says what is excluded."""
    low, high = _sided(found.these if isinstance(found, OverTitles) else found.simultaneous, measure)
    printer = _Printer(measure, error_of(found), found.margin)
    under, over = _sided(Interval(-found.margin, found.margin, 1.0), measure)
    if not (math.isfinite(low) and math.isfinite(high)):
        return "open: these runs set no bounds"
    if under < low < 0 and high > over:
        return f"open, but not more than {printer.side(low)} (up to {printer.side(high)})"
    if 0 < high < over and low < under:
        return f"open, but not more than {printer.side(high)} (up to {printer.side(low)})"
    return f"open ({printer.side(low)} to {printer.side(high)})"


def _untold(found: Found, measure: Measure) -> str:
    """What one visit a setup allows: the estimate, and what would overturn it."""
    printer = _Printer(measure, error_of(found), found.margin)
    better = found.estimate if measure.better is Better.HIGHER else -found.estimate
    size = printer.size(abs(printer.shown(found.estimate)))
    seen = f"{size} {'ahead' if better >= 0 else 'behind'} in these runs"
    if found.tipping is None or not math.isfinite(found.tipping):
        return f"{seen}; visit and setup cannot be told apart"
    if found.tipping <= 0:
        return f"{seen}, no more than the runs' own spread"
    tipping = printer.shown(found.tipping)
    unit = f"{NO_BREAK}%" if measure.scale is Scale.LOG else f" {measure.unit}"
    return f"{seen}; holds unless visits differ by more than {number(tipping, 1, (0.0,))}{unit}"


def _sided(interval: Interval, measure: Measure) -> tuple[float, float]:
    """Both ends as printed, the better direction positive, the worse end first."""
    low, high = (_shown(e, measure) for e in (interval.low, interval.high))
    return (low, high) if measure.better is Better.HIGHER else (-high, -low)


def _shown(value: float, measure: Measure) -> float:
    """A value on the measure's scale as it is printed; no end stays no end."""
    return percent_of_log(value) if measure.scale is Scale.LOG and math.isfinite(value) else value


class _Printer:
    """Prints sizes of one comparison: decimals from its standard error, no rounding over zero or the margin."""

    def __init__(self, measure: Measure, se: float, margin: float, places: int | None = None) -> None:
        self.measure, self.se, self.margin = measure, se, margin
        self.unit = f"{NO_BREAK}%" if measure.scale is Scale.LOG else f" {measure.unit}"
        up, down = (round(self.shown(m), 9) for m in (margin, -margin))  # 3, not 3.0000000000000027, which "3.0" would not reach
        self.lines = (0.0, up, down, -up, -down)
        self.places = decimals_for(100 * se if measure.scale is Scale.LOG else se, most=2) if places is None else places

    def alike(self, *values: float) -> _Printer:
        """The printer that gives all of `values` the same decimals: as many as the one that needs most."""
        fits = (p for p in range(self.places, 5) if all(self._fits(v, p) for v in values if math.isfinite(v)))
        return _Printer(self.measure, self.se, self.margin, next(fits, self.places))

    def _fits(self, value: float, places: int) -> bool:
        return rounded(value, places, self.lines) == round(value, places)

    def shown(self, value: float) -> float:
        """A value on the measure's scale as it is printed."""
        return _shown(value, self.measure)

    def bare(self, value: float) -> str:
        """A signed number without its unit."""
        return number(value, self.places, self.lines, sign=True)

    def signed(self, value: float) -> str:
        """A signed number with its unit."""
        return f"{self.bare(value)}{self.unit}"

    def size(self, value: float) -> str:
        """A size without sign, with its unit."""
        return f"{number(abs(value), self.places, self.lines)}{self.unit}"

    def between(self, one: float, other: float) -> str:
        """Two sizes of the same direction: `1 to 6 %`, `about 3 %`, `at least 3 %`."""
        least, most = sorted((one, other))
        if math.isinf(most):
            return f"at least {self.size(least)}"
        same = self.alike(least, most)
        first, last = (number(v, same.places, self.lines) for v in (least, most))
        return f"about {self.size(most)}" if first == last else f"{first} to {last}{self.unit}"

    def side(self, value: float) -> str:
        """One end of an interval that spans zero: `4 % behind`."""
        return f"{self.size(value)} {'ahead' if value >= 0 else 'behind'}"
