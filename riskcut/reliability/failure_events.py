"""Failure of a system as all-or-any of its parts, rows without an answer carried through honestly.

A row is judged twice: it fails for *certain*, and it *possibly* fails (it does, or has no answer). Any and all
keep both orders, so an impossible row is settled by the other parts wherever they settle it, and by nothing else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from riskcut.reliability.mixture import LimitState

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class AnyOf:
    """Fails where any part does: a series system."""

    parts: tuple[Event, ...]

    def __post_init__(self) -> None:
        _some(self.parts)


@dataclass(frozen=True)
class AllOf:
    """Fails where every part does: a parallel system."""

    parts: tuple[Event, ...]

    def __post_init__(self) -> None:
        _some(self.parts)


@dataclass(frozen=True)
class Not:
    """Fails where its part does not: what stood before."""

    part: Event


Event: TypeAlias = LimitState | AnyOf | AllOf | Not
System: TypeAlias = AnyOf | AllOf | Not | Sequence[LimitState]
"""A plain list of limit states fails where any of them does."""


def _some(parts: Sequence[Event]) -> None:
    if not parts:
        raise ValueError("a system wants at least one part")


def as_event(system: System) -> AnyOf | AllOf | Not:
    """Return a system as an event."""
    if isinstance(system, AnyOf | AllOf | Not):
        return system
    return AnyOf(tuple((int(component), int(place)) for component, place in system))


def limit_states(event: Event) -> Iterator[LimitState]:
    """Go through the limit states of an event, each as often as it stands there."""
    if isinstance(event, AnyOf | AllOf):
        for part in event.parts:
            yield from limit_states(part)
    elif isinstance(event, Not):
        yield from limit_states(event.part)
    else:
        yield event


def first_failures(turns: Mapping[int, Sequence[LimitState]]) -> dict[int, AnyOf | AllOf | Not]:
    """Return the events of failing at one turn and at none before it: they part the failure of any.

    Parameters
    ----------
    turns
        Turn to its limit states, which fail it where any of them does; a smaller turn comes before.
    """
    events: dict[int, AnyOf | AllOf | Not] = {}
    before: list[LimitState] = []
    for turn in sorted(turns):
        now = as_event(turns[turn])
        events[turn] = AllOf((now, Not(as_event(before)))) if before else now
        before += turns[turn]
    return events


@dataclass(frozen=True)
class Verdict:
    """Of some rows."""

    certain: Flags
    """(rows,), fails."""
    possible: Flags
    """(rows,), fails or has no answer; never without ``certain``."""

    @classmethod
    def of(cls, margin: NDArray[np.float64]) -> Verdict:
        """Judge margins (rows,): failure is below zero, NaN is no answer."""
        return cls(certain=margin < 0.0, possible=~(margin >= 0.0))

    def turned(self) -> Verdict:
        """Return the verdict on the complement, not failing."""
        return Verdict(certain=~self.possible, possible=~self.certain)


def verdict(event: Event, judged: Mapping[LimitState, Verdict]) -> Verdict:
    """Judge an event from the verdicts on its limit states."""
    if isinstance(event, Not):
        return verdict(event.part, judged).turned()
    if not isinstance(event, AnyOf | AllOf):
        return judged[event]
    join = np.logical_or if isinstance(event, AnyOf) else np.logical_and
    first, *others = (verdict(part, judged) for part in event.parts)
    certain, possible = first.certain.copy(), first.possible.copy()
    for other in others:
        join(certain, other.certain, out=certain)
        join(possible, other.possible, out=possible)
    return Verdict(certain=certain, possible=possible)
