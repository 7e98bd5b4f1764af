"""Which limit states are sampled together, and which systems come from the same rows.

Every union of a problem is a set of components; unions of the same components are one view. A component is at home
in the smallest view that it is part of: there all its limit states are estimated. A view in which it is a guest
samples of it only what governs, for the view's own system.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from riskcut.reliability.problem import Problem


@dataclass(frozen=True)
class View:
    """Some components sampled together."""

    components: tuple[int, ...]
    """By their places in the problem."""
    unions: tuple[str, ...]
    """Names of the unions that these components make up; empty for a component that is part of none."""
    at_home: frozenset[int]
    """Components, by their places in the problem, whose every limit state is estimated here."""


def views(problem: Problem) -> tuple[View, ...]:
    """Return the views of a problem, the smallest by limit states first: home comes before where one is a guest."""
    members: dict[str, list[int]] = {}
    for place, component in enumerate(problem.components):
        for union in component.unions:
            members.setdefault(union, []).append(place)
    unions: dict[tuple[int, ...], list[str]] = {}
    for union, places in members.items():
        unions.setdefault(tuple(places), []).append(union)
    for place, component in enumerate(problem.components):
        if not component.unions:
            unions.setdefault((place,), [])
    by_size = sorted(
        unions, key=lambda places: sum(len(problem.components[place].labels) for place in places)
    )
    homes = _homes(by_size)
    return tuple(
        View(places, tuple(unions[places]), frozenset(place for place in places if homes[place] == places))
        for places in by_size
    )


def waves(every: Sequence[View]) -> list[list[View]]:
    """Return the views, in their order, in waves: those of one wave owe nothing to each other.

    A view comes after those within it, whose unions its own take up, and after those in which its guests are at home.
    """
    level: dict[View, int] = {}
    for view in every:
        guests = set(view.components) - view.at_home
        before = [
            level[other]
            for other in level
            if guests & other.at_home or set(other.components) < set(view.components)
        ]
        level[view] = 1 + max(before, default=-1)
    return [[view for view in every if level[view] == k] for k in range(1 + max(level.values(), default=-1))]


def _homes(by_size: Sequence[tuple[int, ...]]) -> dict[int, tuple[int, ...]]:
    """Return the first set that each component is in."""
    homes: dict[int, tuple[int, ...]] = {}
    for places in by_size:
        for place in places:
            homes.setdefault(place, places)
    return homes
