"""A reliability problem: a joint distribution and components with limit states, and nothing else.

A component is one vectorised function of some of the joint's columns with k limit states; components
that name the same union fail together: it fails where any of them does (the stages of one section, say).
Failure is margin < 0.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from riskcut.uncertainty.joint import Joint


@dataclass(frozen=True)
class Response:
    """What a component answers for n rows and the k limit states that were asked for.

    Arrays in Fortran order (each limit state contiguous) are counted fastest; any order will do.
    """

    margin: NDArray[np.float64]
    """(n, k), resistance less action; NaN in a row whose geometry is impossible."""
    ratio: NDArray[np.float64] | None = None
    """(n, k), resistance over action; +inf where the action is zero or less."""
    outside: NDArray[np.bool_] | None = None
    """(n, k), whether the row lies outside the range of use of the limit state's model."""


Respond = Callable[[NDArray[np.float64], Sequence[int]], Response]


@dataclass(frozen=True)
class Component:
    """Some limit states that are evaluated together from the same columns."""

    name: str
    """Unique in the problem."""
    unions: tuple[str, ...]
    """The unions that it is part of; a union fails where any of its components does."""
    columns: tuple[int, ...]
    """The joint's columns that ``respond`` reads, in that order."""
    labels: tuple[str, ...]
    """Names of the k limit states, unique in the component."""
    governing: tuple[bool, ...]
    """For each limit state, whether it enters the system."""
    respond: Respond
    """From x (n, len(columns)) and a list of limit states (their places in ``labels``). The array x is the
    caller's, in Fortran order: good until the answer is given, then written over."""
    turn: int = 0
    """When its turn comes in a union that is taken in turns; smaller ones come before."""

    def __post_init__(self) -> None:
        if not self.labels:
            raise ValueError(f"component {self.name!r} has no limit state")
        if len(self.governing) != len(self.labels):
            raise ValueError(
                f"component {self.name!r} has {len(self.labels)} limit states and {len(self.governing)} flags"
            )
        if len(set(self.unions)) != len(self.unions):
            raise ValueError(f"component {self.name!r} is part of a union twice: {', '.join(self.unions)}")
        if len(set(self.labels)) != len(self.labels):
            raise ValueError(f"component {self.name!r} names a limit state twice: {', '.join(self.labels)}")

    def answer(self, x: NDArray[np.float64], which: Sequence[int]) -> Response:
        """Return the response, its shapes checked.

        Raises
        ------
        ValueError
            Where an array is not (n, len(which)).
        """
        response = self.respond(x, which)
        shape = (len(x), len(which))
        for part in ("margin", "ratio", "outside"):
            array = getattr(response, part)
            if array is not None and array.shape != shape:
                raise ValueError(f"component {self.name!r} answered a {part} of {array.shape}, not {shape}")
        return response

    def margins(self, x: NDArray[np.float64], which: Sequence[int]) -> NDArray[np.float64]:
        """Return the margins of the limit states ``which``: (n, len(columns)) to (n, len(which))."""
        return self.answer(x, which).margin


@dataclass(frozen=True)
class Problem:
    """A joint distribution and the components that read it."""

    joint: Joint
    components: tuple[Component, ...]
    in_turns: Mapping[str, bool] = field(default_factory=dict)
    """Unions of which it is also told at which turn of their components they fail first, and whether samples are sized
    for that too."""

    def __post_init__(self) -> None:
        names = [component.name for component in self.components]
        if not names:
            raise ValueError("a problem wants at least one component")
        if len(set(names)) != len(names):
            twice = sorted({name for name in names if names.count(name) > 1})
            raise ValueError(f"components share a name: {', '.join(twice)}")
        for component in self.components:
            for column in component.columns:
                if not 0 <= column < self.joint.columns:
                    raise ValueError(
                        f"component {component.name!r} reads column {column}; there are {self.joint.columns}"
                    )

    def turns(self, union: str) -> dict[int, list[int]]:
        """Return the turns of a union's components that can fail it, in order, each with its components' places."""
        turns: dict[int, list[int]] = {}
        for place, component in enumerate(self.components):
            if union in component.unions and any(component.governing):
                turns.setdefault(component.turn, []).append(place)
        return dict(sorted(turns.items()))

    @property
    def limit_states(self) -> int:
        """Number of limit states of all components."""
        return sum(len(component.labels) for component in self.components)


class ImpossibleRows(ValueError):  # noqa: N818 - named by its cause
    """Too many rows whose geometry is impossible: the figures would be about something else."""

    def __init__(self, count: int, rows: int, component: str) -> None:
        super().__init__(
            f"{component}: {count:,} of {rows:,} rows ({100.0 * count / rows:.2g} %) have a geometry that is "
            "impossible; at most 1 % may"
        )
        self.count = count
        self.rows = rows
        self.component = component
