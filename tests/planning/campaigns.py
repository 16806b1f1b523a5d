"""A person at the bench who does what is asked."""

from __future__ import annotations

from dataclasses import replace

from planned import study

from evenhand.planning.model import RecordedRun
from evenhand.planning.plan import plan
from evenhand.planning.progress import progress


class Bench:
    """A person who does what is asked. Nothing is remembered but what a book would hold: runs, and the order of visits."""

    def __init__(self, asked, made):
        self.asked, self.made = asked, made
        self.runs, self.begun, self.ended = {}, [], False

    @property
    def state(self):
        return progress(self.asked, self.made, [RecordedRun(k, kept) for k, kept in self.runs.items()], self.begun, self.ended)

    def begin(self):
        due = self.state.due
        assert not due.begun
        self.begun.append((due.setup, due.visit))
        self.ended = False

    def end(self):
        self.ended = True

    def record(self, kept=True):
        due = self.state.due
        assert due.begun
        assert due.expected not in self.runs
        self.runs[due.expected] = kept
        return due.expected

    def spoil(self, setup, visit, title=None):
        for key in self.runs:
            if (key.setup, key.visit) == (setup, visit) and title in (None, key.title):
                self.runs[key] = False

    def go_on(self, visits=1):
        """Begin and finish visits, as many as asked."""
        for _ in range(visits):
            self.begin()
            while self.state.present.scenes:
                self.record()


def bench(titles=2, setups=3, visits=2, runs=2, parts=1, **changed):
    asked = replace(study(titles, setups, visits, runs), **changed)
    return Bench(asked, plan(asked, 1, parts=parts))
