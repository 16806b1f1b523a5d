from dataclasses import replace

from evenhand.screening.model import Weight
from evenhand.screening.screen import screen


def test_many_bad_rows_are_doubtful_a_few_a_note(clean):
    runs = list(clean)
    runs[0] = replace(runs[0], bad_rows=40)
    runs[1] = replace(runs[1], bad_rows=1)
    found = [f for f in screen(runs).flags if f.check == "bad-rows"]
    assert [(f.run, f.weight) for f in found] == [(runs[0].key, Weight.DOUBTFUL), (runs[1].key, Weight.NOTE)]
    assert "1 row of the log" in found[1].sentence
