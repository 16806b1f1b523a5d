"""Response groups as the document of `evenhand judge --json` has them: a member shows a comparison or an effect, never both."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from evenhand.judging.model import Comparison, Effect, Limit, Preference, ResponseGroup


@dataclass(frozen=True, slots=True)
class MemberEntry:
    """A title of a group and what shows it. beside : the same comparison in the low. limits : what may hold it, as looked at."""

    title: str
    comparison: Comparison | None
    effect: Effect | None
    beside: Comparison | None
    limits: tuple[Limit, ...]


@dataclass(frozen=True, slots=True)
class GroupEntry:
    """Titles that respond alike; the fields are those of `judging.model.ResponseGroup`."""

    kind: str
    members: tuple[MemberEntry, ...]
    prefers: tuple[Preference, ...]
    levels: tuple[tuple[str, str], ...]
    setups: tuple[str, ...]
    low_open: tuple[str, ...]


def group_entries(groups: Iterable[ResponseGroup]) -> tuple[GroupEntry, ...]:
    """The groups for a document."""
    return tuple(
        GroupEntry(
            kind=group.kind.value,
            members=tuple(
                MemberEntry(
                    title=m.title,
                    comparison=m.shown if isinstance(m.shown, Comparison) else None,
                    effect=m.shown if isinstance(m.shown, Effect) else None,
                    beside=m.beside,
                    limits=m.limits,
                )
                for m in group.members
            ),
            prefers=group.prefers,
            levels=group.levels,
            setups=group.setups,
            low_open=group.low_open,
        )
        for group in groups
    )
