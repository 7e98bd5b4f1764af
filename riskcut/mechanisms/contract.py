"""What a mechanism is: the contract that every file of this room keeps.

A mechanism is one way for the works to fail. Its file holds pure, vectorised, keyword-only functions
with the physics, and one :class:`Mechanism` named ``MECHANISM`` that tells the rest of the program
what it needs, where it is valid, who says so, and how to call it. Mechanisms are found by being in the
folder (:mod:`riskcut.mechanisms`).

Failure is ``resistance < action`` and nothing else. A mechanism never divides before comparing, never
takes the worst of several members, and knows nothing of probability.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from riskcut.study.block import Block, Number

Basis = Literal["measured", "published", "judgement"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelFactor:
    """The random factor on a mechanism's own uncertain term (lognormal), unless the study states another."""

    term: str
    """The physical term that it multiplies, in words."""
    mean: float
    cov: float
    basis: Basis
    source: str
    correlation: float = 0.0
    """Between the factors of this mechanism's members (the prop levels of one wall, say)."""
    shared: str = ""
    """Name, ``quantity/member``, under which several mechanisms share one draw; empty: the factor is its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Symbol:
    """One symbol of a mechanism's formula."""

    symbol: str
    meaning: str
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One limit state of a mechanism in one block."""

    name: str
    governing: bool = True
    """Whether it enters the system; alternative models of one event are shown, one governs."""
    not_applicable: str | None = None
    """Why there is nothing to evaluate here; None where there is."""
    note: str = ""
    """What a reader should know of it in this block (why it governs, say)."""


class Step(NamedTuple):
    """One intermediate number, in the order in which a checker would write it."""

    symbol: str
    meaning: str
    unit: str
    value: Number


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """Resistance and action effect of one limit state, in one unit."""

    resistance: Number
    action: Number
    outside: Mapping[str, bool | NDArray[np.bool_]] = field(default_factory=dict)
    """Limit of the range of use (as text) to the rows that lie outside it."""
    steps: tuple[Step, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """A choice of method that a study may state under ``models``, by its key there."""

    meaning: str
    choices: tuple[str, ...] = ()
    """The words that it may be; empty where it is a number."""
    default: str | float | None = None
    lowest: float | None = None
    highest: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Mechanism:
    """One file of this room, as the rest of the program sees it."""

    name: str
    title: str
    sentence: str
    """What happens when it fails, in one sentence."""
    unit: str
    """Of resistance and action."""
    formula: str
    symbols: tuple[Symbol, ...]
    range_of_use: tuple[str, ...]
    sources: tuple[str, ...]
    not_covered: tuple[str, ...]
    """What a reader might think is covered, and is not."""
    factors: Mapping[str, ModelFactor]
    """By member; ``*`` stands for every member that is not named. Empty where nothing is to be factored."""
    members: Callable[[Block], tuple[Member, ...]]
    """From a block at the means: which limit states there are."""
    evaluate: Callable[[Block, Sequence[str]], tuple[Outcome, ...]]
    """From a block and the names of members to their outcomes. Together, since the members of one block
    share most of what they need."""
    options: Mapping[str, Option] = field(default_factory=dict)
    unaffected_by: frozenset[str] = frozenset()
    """Fields of the block that it never reads: an event that changes nothing else leaves it alone."""
    unaffected_where_hydrostatic: frozenset[str] = frozenset()
    """The same, more of them, where the pore pressure of the ground is hydrostatic from the table."""
    monotone: Mapping[str, int] = field(default_factory=dict)
    """Input (as a path in the block, ``piles.diameter``, ``strata.*.su_at_top``, ``surcharge``; ``*`` stands
    for any entry) to the sign of the derivative of resistance minus action: +1 safer as it grows, -1 less safe."""

    def outcome(self, block: Block, member: str) -> Outcome:
        """Return the outcome of one member."""
        return self.evaluate(block, (member,))[0]

    def never_reads(self, block: Block) -> frozenset[str]:
        """Return the fields of a block (whose numbers may be anything) that it never reads."""
        hydrostatic = block.pore_pressure == "hydrostatic"
        return self.unaffected_by | (self.unaffected_where_hydrostatic if hydrostatic else frozenset())

    def factor(self, member: str) -> ModelFactor | None:
        """Return the model factor of a member, None where the mechanism has none."""
        return self.factors.get(member, self.factors.get("*"))
