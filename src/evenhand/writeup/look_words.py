"""How a look at a study is spoken of: which of the planned ones it is, what it may spend, what an unplanned one would cost."""

from __future__ import annotations

from collections.abc import Iterator

from evenhand.judging.model import Look, Precision
from evenhand.units import percent, percent_of_log
from evenhand.wording import counted, listed


def look_lines(look: Look | None, precision: Precision | None) -> tuple[str, ...]:
    """What must be said about when this was judged; nothing where all planned visits are in and that was the only look."""
    found = list(_precision(precision)) if precision else []
    if look is not None:
        found += _look(look, bool(precision))
    return tuple(found)


def confidence_words(confidence: float) -> str:
    """`95 %`, `99.7 %`: as many digits as tell it from 100 %."""
    decimals = next((d for d in (0, 1) if round(confidence * 100, 6) == round(confidence * 100, d)), 2)
    return percent(100 * confidence, decimals)


def _look(look: Look, by_precision: bool) -> Iterator[str]:
    if len(look.planned) > 1:
        yield from _planned(look) if look.number else _between(look)
    elif not by_precision and look.number is None:
        yield _unplanned(look)


def _planned(look: Look) -> Iterator[str]:
    place = f"Look {look.number} of {len(look.planned)}, at {counted(look.fewest, 'visit')} a setup"
    if look.final:
        yield f"{place}: the last one planned; all of the error is spent, intervals are {confidence_words(look.confidence)}."
    else:
        yield (
            f"{place}; error spent so far {percent(100 * look.spent, 1)} of {percent(100 * look.total, 0)}, "
            f"so intervals are {confidence_words(look.confidence)} here. A verdict reached now holds if you stop here."
        )


def _between(look: Look) -> Iterator[str]:
    plan = listed([str(n) for n in look.planned])
    what = f"This look, at {_visits(look)} a setup, is none of those planned (at {plan})"
    if look.fewest >= look.planned[-1]:
        yield (
            f"{what}: all error was spent at the last one. If visits were added because of what that one showed, the error of "
            f"the whole is {percent(100 * look.total, 1)}."
        )
    else:
        yield (
            f"{what}. Its intervals are {confidence_words(look.confidence)}; if you stop or go on because of "
            f"what it shows, the error of the whole is {percent(100 * look.total, 1)}."
        )


def _unplanned(look: Look) -> str:
    planned, usual = look.planned[-1], percent(100 * (1 - look.confidence), 0)
    cost = f"raises the error of “ahead” and “behind” from {usual} to {percent(100 * look.total, 1)}"
    if look.fewest < planned:
        why = "a look now was not planned: stopping because of what it shows"
        return f"{_visits(look)} of {planned} planned are in, and {why} {cost}."
    return f"{_visits(look)} a setup are in, {planned} were planned: adding visits because of what {planned} showed {cost}."


def _visits(look: Look) -> str:
    between = f"{look.fewest} to {look.most}" if look.fewest < look.most else str(look.fewest)
    return f"{between} {'visit' if look.most == 1 else 'visits'}"


def _precision(precision: Precision) -> Iterator[str]:
    half, target = (percent(percent_of_log(x), 1) for x in (precision.reached_half, precision.target))
    said = f"The average over titles is known to ± {half}; recording may stop at ± {target}, whatever the verdict"
    if precision.reached:
        yield f"{said}: reached."
    elif precision.noise_unknown and precision.reached_half <= precision.target:
        yield (
            f"{said}. Visits are too few to know the noise itself, so recording goes on: about "
            f"{counted(precision.further or 1, 'more visit')} of each setup."
        )
    elif precision.further is None:
        yield f"{said}: not yet, and more visits alone are not expected to reach it soon."
    else:
        yield f"{said}: not yet, about {counted(precision.further, 'more visit')} of each setup expected."
