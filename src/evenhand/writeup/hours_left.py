"""The best use of the next hours in words: what to record, what will be told then, which look that is, what stays open."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from evenhand.judging.model import Look, Precision
from evenhand.planning.model import Progress, Use
from evenhand.rehearsal.model import Rehearsal
from evenhand.study.model import Study
from evenhand.units import number
from evenhand.wording import counted, listed, quoted
from evenhand.writeup.look_words import look_lines
from evenhand.writeup.model import Section
from evenhand.writeup.next_words import visit_words
from evenhand.writeup.planned import minutes_words
from evenhand.writeup.rehearsed import chance, reach_words


@dataclass(frozen=True, slots=True)
class HoursLeft:
    """A study that is being recorded. then, whole : rehearsals of the whole rounds that are done after the hours, and of the
    plan, None with fewer than two. now, look, precision : of what is recorded; now None where it bears no verdict yet.
    """

    folder: Path
    study: Study
    progress: Progress
    use: Use
    then: Rehearsal | None
    whole: Rehearsal | None
    now: Rehearsal | None
    look: Look | None
    precision: Precision | None

    @property
    def next_look(self) -> int | None:
        """Rounds at which verdicts are looked at next."""
        planned = self.study.protocol.looks or (self.study.protocol.visits,)
        return min((n for n in planned if n > self.progress.rounds), default=None)


def account(found: HoursLeft) -> tuple[Section, ...]:
    """Every section that has something to say, in the order in which it should be read."""
    sections = (_use(found), _tells(found), _look(found), _open(found))
    return tuple(section for section in sections if section is not None)


def _use(found: HoursLeft) -> Section:
    use, progress = found.use, found.progress
    heading = f"The best use of {minutes_words(use.at_hand)}: {_in_short(found)}"
    done = (
        f"{progress.over} of {counted(progress.visits, 'visit')} are done, {counted(progress.rounds, 'whole round')}; all "
        f"that is left takes {minutes_words(progress.minutes)}."
    )
    return Section("use", heading, paragraphs=(done,), items=tuple(_steps(found)))


def _in_short(found: HoursLeft) -> str:
    use = found.use
    if use.first is not None and not use.visits:
        return "finish the present visit" if use.first.minutes <= use.at_hand else "go on in the present visit"
    if not use.visits:
        return f"none; the next visit takes {minutes_words(found.progress.ahead[0].minutes)}"
    first = "finish the present visit, then " if use.first else ""
    return f"{first}{counted(len(use.visits), 'visit')}, {minutes_words(use.minutes)}"


def _steps(found: HoursLeft) -> Iterator[str]:
    use = found.use
    if use.first is not None:
        yield f"finish {visit_words(found.study, use.first)}: {minutes_words(use.first.minutes)}"
    for visit in use.visits:
        yield f"{visit_words(found.study, visit)}: {minutes_words(visit.minutes)}"
    if use.broken:
        more = minutes_words(use.short)
        yield f"to finish the round takes {more} more: go on with it as soon as you can, before the PC drifts or updates"
    if use.spare:
        over = minutes_words(use.at_hand - use.minutes)
        yield (
            f"{over} are left over: {counted(use.spare, 'visit')} of the next round would fit, but leave it unfinished till "
            "another day, and then what a day shares no longer cancels"
        )


def _tells(found: HoursLeft) -> Section | None:
    rounds, use = found.progress.rounds, found.use
    if found.then is None or found.whole is None or use.rounds == rounds:
        return None
    then, whole = found.then.expected[0], found.whole.expected[0]
    heading = (
        f"With {counted(use.rounds, 'visit')} of each setup {chance(then.at_titles.settled)} of the verdicts at titles are "
        f"expected to settle, with all {found.study.protocol.visits} {chance(whole.at_titles.settled)}"
    )
    reach = [reach_words(e.measure, o.simultaneous) for e in (then, whole) for o in (e.over_titles, e.at_titles)]
    name = then.measure.label[0].lower() + then.measure.label[1:]
    text = (
        f"The {name} is then known to {reach[0]} over titles and {reach[1]} at a title; in the end to {reach[2]} and {reach[3]}."
    )
    return Section("tells", heading, paragraphs=(text,))


def _look(found: HoursLeft) -> Section | None:
    upcoming = found.next_look
    if upcoming is None:
        return None
    said = look_lines(found.look, found.precision)
    missing = [v for v in found.progress.ahead if v.round is not None and v.round <= upcoming]
    own = found.progress.present
    minutes = sum(v.minutes for v in missing) + (own.minutes if own else 0.0)
    reached = "within these hours" if found.use.rounds >= upcoming else "beyond these hours"
    heading = (
        f"The next planned look is at {counted(upcoming, 'visit')} of each setup, {minutes_words(minutes)} from here: {reached}"
    )
    rule = "Which visits come next depends on the plan, never on a verdict. Stop at a planned look, or by the precision reached."
    return Section("look", heading, paragraphs=(rule, *said))


def _open(found: HoursLeft) -> Section | None:
    """How much is open, without saying where it stands: that would be a look."""
    if found.now is None or not found.now.opened:
        return None
    opened, rounds = found.now.opened, found.use.rounds - found.progress.rounds
    heading = f"{counted(len(opened), 'verdict')} {'is' if len(opened) == 1 else 'are'} open"
    if rounds > 0:
        settled = sum(o.chances[min(rounds, len(o.chances)) - 1] for o in opened)
        heading += f"; after these hours about {number(settled)} of them are expected to be settled"
    hopeless = sum(o.visits is None for o in opened)
    few = f"{hopeless} of them have less than four chances in five within {len(opened[0].chances)} further visits of each setup. "
    which = f"{few if hopeless else ''}Which they are, and where they stand, is a look: evenhand rehearse {quoted(found.folder)}"
    return Section("open", heading, paragraphs=(which,), items=_best_setup(found))


def _best_setup(found: HoursLeft) -> tuple[str, ...]:
    """Where rounds are no term, visits may go to the setups that are least clear."""
    given = found.now.next_visits if found.now else None
    if given is None or found.now is None or found.now.expected[0].rounds:
        return ()
    shares = listed([f"{count} × {found.study.setup(name).label}" for name, count in given.visits if count])
    return (f"beside the plan, to tell soonest which setup is best, the next visits would be {shares}; that too goes by a look",)
