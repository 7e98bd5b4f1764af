"""Which limit states are sampled together, and which systems come from the same rows.

Every union of a problem is a set of components; unions of the same components are one view. A component is at home
in the smallest view that it is part of: there all its limit states are estimated. A view in which it is a guest
samples of it only what governs, for the view's own system.
"""

from __future__ import annotations

from collections.abc import Mapping
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
    """Return the views of a problem, in the order of their first union."""
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
    homes = _homes(problem, unions)
    return tuple(
        View(places, tuple(names), frozenset(place for place in places if homes[place] == places))
        for places, names in unions.items()
    )


def _homes(problem: Problem, unions: Mapping[tuple[int, ...], object]) -> dict[int, tuple[int, ...]]:
    """Return the smallest set that each component is in, by limit states; the first of equals."""
    size = {places: sum(len(problem.components[place].labels) for place in places) for places in unions}
    homes: dict[int, tuple[int, ...]] = {}
    for places in unions:
        for place in places:
            if place not in homes or size[places] < size[homes[place]]:
                homes[place] = places
    return homes
