"""One run, one doubtful flag; reasons likeliest first."""

from evenhand.screening.found import doubt, note
from evenhand.screening.screen import resolve
from evenhand.study.model import RunKey

RUN = RunKey("a", "a", "s", 1, 1)


def reasons(*flags):
    first, *rest = resolve(flags)
    assert not [f for f in rest if f.weight is first.weight]
    return first.reasons


def test_a_cap_explains_an_odd_rate_and_a_lost_course():
    found = reasons(doubt(RUN, "odd-run", "", {}), doubt(RUN, "other-content", "", {"match": 0.1}), doubt(RUN, "capped", "", {}))
    assert found == ("capped", "other-content", "odd-run")


def test_short_comes_second_where_the_content_is_another():
    short = doubt(RUN, "too-short", "", {}, also=("other-content",))
    assert reasons(short) == ("too-short", "other-content")
    assert reasons(short, doubt(RUN, "other-content", "", {"match": 0.2})) == ("other-content", "too-short")


def test_a_load_blurs_the_course():
    busy = doubt(RUN, "busy-machine", "", {})

    def content(match, usual):
        return doubt(RUN, "other-content", "", {"match": match, "usual": usual})

    assert reasons(content(2.4, 6.0), busy) == ("busy-machine", "other-content")
    assert reasons(content(0.4, 6.0), busy) == ("other-content", "busy-machine")
    assert reasons(content(2.4, 11.0), busy) == ("other-content", "busy-machine")
    beside = doubt(RUN, "busy-machine", "", {"beside": 4.0, "beside_share": 0.4})
    assert reasons(content(0.4, 16.0), beside) == ("other-content", "busy-machine")
    assert reasons(content(0.4, 12.0), beside) == ("busy-machine", "other-content")
    assert reasons(content(2.4, 6.0), doubt(RUN, "first-run", "", {})) == ("first-run", "other-content")


def test_notes_stay_unless_the_reason_covers_them():
    kept = note(RUN, "drift", "", {}, covers=(RUN,))
    own = note(RUN, "odd-run", "", {})
    found = resolve([own, kept, doubt(RUN, "odd-run", "", {})])
    assert [f.check for f in found] == ["odd-run", "drift"]
    assert resolve([own, kept]) == (own, kept)
