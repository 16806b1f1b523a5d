"""Where a number of one run comes from: its log, what was cut off, its frames, its standing."""

from __future__ import annotations

from evenhand.errors import Problem, UsageError
from evenhand.measures.catalogue import CATALOGUE
from evenhand.measures.model import Origin
from evenhand.measures.uncertainty import run_interval
from evenhand.screening.model import Flag
from evenhand.steps.derivation import Derivation
from evenhand.steps.runs import LoggedRun, StudyRun
from evenhand.units import number
from evenhand.wording import listed


def explain_run(run: StudyRun, flags: tuple[Flag, ...], measure: str) -> Derivation:
    """A run down to its frames, or to the table that its result stands in. Raises UsageError for a measure that it lacks."""
    if measure not in run.measures.values:
        has = listed(tuple(run.measures.values), "or")
        raise UsageError(Problem("unknown-measure", f"{run.key} has no {measure}", "--measure", f"name {has}"))
    made = Derivation(part="the run")
    if isinstance(run, LoggedRun) and CATALOGUE[measure].origin is Origin.SENSORS:
        _sensors(made, run, measure)
    elif isinstance(run, LoggedRun):
        _frames(made, run, measure)
    else:
        row = CATALOGUE[measure]
        made.say("table", "as it came, kept under its SHA-256", f"{run.source}; {run.sha256}")
        made.say("result", "what was understood", run.account)
        made.say(row.label, row.help, f"{number(run.measures.values[measure], 4)} {row.unit}")
    for flag in flags:
        made.say("flag", flag.check, flag.sentence)
    by = run.decided
    decided = f"{run.standing} by {by.by}: {by.why}" if by else "kept: nobody decided otherwise"
    made.say("standing", "the latest decision counts", decided)
    return made


def _sensors(made: Derivation, run: LoggedRun, measure: str) -> None:
    """Energy of a frame, from the power that was logged."""
    row, found = CATALOGUE[measure], run.sensors
    if found is None or found.power is None:
        return
    frames, seconds = len(run.cut.counted), run.cut.counted.seconds
    made.say("sensor log", "lined up with the frames", f"by {found.how}, give or take {number(found.unsure_s, 1)} s")
    made.say("mean power", "trapezoids over the frames that count, divided by their time", f"{number(found.power, 3)} W")
    put_in = f"{number(found.power, 3)} W × {number(seconds, 3)} s / {frames}"
    made.add(row.label, "mean power × time / frames", run.measures.values[measure], put_in, "J")


def _frames(made: Derivation, run: LoggedRun, measure: str) -> None:
    ms, row = run.cut.counted.ms, CATALOGUE[measure]
    made.say("log", "as it came, kept under its SHA-256", f"{run.source}; {run.sha256}")
    made.say("frames", "what the reader understood", run.account)
    made.say("start of the scene", "the same rule for all setups", f"frame {run.cut.start.frame + 1}: {run.cut.start.why}")
    counted = f"frames {run.cut.first + 1} to {run.cut.last} of {len(run.whole)}"
    made.say("stretch that counts", "fixed once for the scene", counted)
    made.say("lag", "content later (+) or earlier than the rule says", f"{number(run.cut.lag_s, 3)} s")
    made.say("counted", "N frames, D = sum of their durations", f"N = {len(ms)}, D = {number(float(ms.sum()), 3)} ms")
    slowest = ", ".join(number(v, 2) for v in sorted(ms.tolist(), reverse=True)[:5])
    made.say("slowest frames", "the five longest durations", f"{slowest} ms")
    made.say(row.label, row.help, f"{number(run.measures.values[measure], 4)} {row.unit}")
    if measure in run.measures.tail_counts:
        short = "; too few to state for one run, the visit's frames are put together"
        count = run.measures.tail_counts[measure]
        made.say("tail", "frames that decide it", f"{count}{short if measure in run.measures.too_short else ''}")
    low, high, block = run_interval(run.cut.counted, measure)
    within = f"{number(low, 3)} to {number(high, 3)} (mean block {number(block, 1)} frames)"
    made.say("within-run interval", "stationary bootstrap, 95 %; not the uncertainty of the setup", within)
