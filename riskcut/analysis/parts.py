"""Blocks cut into the components that are simulated, and the unions that these make up.

An event changes little: where wells are lost, the props feel nothing of it. So a block in which an event may
happen is cut in two, what the event touches and what it leaves alone, and only the first is evaluated again for
the event. Unions put the parts together: a stage, a section over its stages, the whole; each as planned, and if
one event happens at one stage.
"""

from __future__ import annotations

import dataclasses
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from riskcut.analysis.limit_states import LimitState
from riskcut.mechanisms.contract import Outcome
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.study.block import Block, Number
from riskcut.study.columns import Column
from riskcut.study.events import AS_PLANNED
from riskcut.study.template import Template, bounds, impossible_rows
from riskcut.uncertainty.joint import Joint

Array = NDArray[np.float64]

WHOLE = "the whole"
"""Name of the union of all sections."""


@dataclass(frozen=True)
class BoundBlock:
    """A block with its mechanisms."""

    template: Template
    at_means: Block
    states: tuple[LimitState, ...]
    """Every limit state of the block, those that do not apply included."""

    @property
    def applying(self) -> tuple[LimitState, ...]:
        """Return the limit states that apply."""
        return tuple(state for state in self.states if state.applies)

    @property
    def key(self) -> tuple[str, str, str]:
        """Return section, stage and scenario."""
        return self.template.section, self.template.stage, self.template.scenario

    def outcome_at_means(self, state: LimitState) -> Outcome:
        """Return resistance, action and the steps to them with every number at its mean."""
        return state.mechanism.outcome(self.at_means, state.member.name)


@dataclass(frozen=True)
class Part:
    """Some limit states of a block, that are simulated as one component."""

    name: str
    block: BoundBlock
    states: tuple[LimitState, ...]

    @property
    def governs(self) -> bool:
        """Whether any of it enters a system."""
        return any(state.member.governing for state in self.states)


Key = tuple[str, str, str]
"""Section, stage, scenario."""


def stage_union(section: str, stage: str, scenario: str = AS_PLANNED) -> str:
    """Return the name of the union of a stage of a section, as planned or if an event happens in it."""
    return f"{section} at {stage}" + ("" if scenario == AS_PLANNED else f" if {scenario}")


def event_union(part: str, stage: str, event: str) -> str:
    """Return the name of the union of a section (or of the whole) if one event happens at one stage."""
    return f"{part} if {event} at {stage}"


def cut_in_parts(blocks: Sequence[BoundBlock]) -> dict[Key, tuple[Part, ...]]:
    """Return the parts that each block is made of; an event's block shares what the event leaves alone.

    A block as planned is cut by which events touch what, so that each event leaves whole parts alone.
    """
    planned = {block.key: block for block in blocks if block.template.scenario == AS_PLANNED}
    events = [block for block in blocks if block.template.scenario != AS_PLANNED]
    touched: dict[Key, dict[str, set[str]]] = defaultdict(dict)
    for block in events:
        base = planned[(*block.key[:2], AS_PLANNED)]
        touched[base.key][block.template.scenario] = _touched(base, block)
    parts: dict[Key, tuple[Part, ...]] = {}
    for key, block in planned.items():
        by_events: dict[tuple[str, ...], list[LimitState]] = {}
        for state in block.applying:
            touching = tuple(e for e, names in touched[key].items() if state.mechanism.name in names)
            by_events.setdefault(touching, []).append(state)
        name = " · ".join(key[:2])
        parts[key] = tuple(
            Part(f"{name} · but for {', '.join(touching)}" if touching else name, block, tuple(states))
            for touching, states in by_events.items()
        )
    for block in events:
        base_key = (*block.key[:2], AS_PLANNED)
        names = touched[base_key][block.template.scenario]
        states = tuple(state for state in block.applying if state.mechanism.name in names)
        again = (Part(" · ".join(block.key), block, states),) if states else ()
        alone = tuple(part for part in parts[base_key] if part.states[0].mechanism.name not in names)
        parts[block.key] = (*again, *alone)
    return parts


def _touched(planned: BoundBlock, happening: BoundBlock) -> set[str]:
    """Return the mechanisms that read anything that an event changes."""
    one, other = planned.template.pattern, happening.template.pattern
    changed = {
        f.name
        for f in dataclasses.fields(one)
        if f.name != "model_factors" and getattr(one, f.name) != getattr(other, f.name)
    }
    states = (*planned.states, *happening.states)
    return {s.mechanism.name for s in states if not changed <= s.mechanism.never_reads(one)}


def problem(
    joint: Joint, parts: Mapping[Key, tuple[Part, ...]], columns: Sequence[Column], stages: Sequence[str]
) -> Problem:
    """Return the problem of all parts; the stages are the turns at which a section may fail first.

    Parameters
    ----------
    joint, columns
        Of every number.
    parts
        By section, stage and scenario.
    stages
        In their order.
    """
    sections = {section for section, _, _ in parts}
    happening = {(stage, event) for _, stage, event in parts if event != AS_PLANNED}
    # What an event adds counts by its probability alone: its samples need not be sized for each turn.
    in_turns = {event_union(section, *one): False for section in sections for one in happening}
    return Problem(joint, components(parts, columns, stages), in_turns | dict.fromkeys(sections, True))


def components(
    parts: Mapping[Key, tuple[Part, ...]], columns: Sequence[Column], stages: Sequence[str]
) -> tuple[Component, ...]:
    """Return a component for each part, with the unions that it is part of: those that it may fail."""
    unions: dict[str, list[str]] = defaultdict(list)
    of = {part.name: part for made_of in parts.values() for part in made_of}
    happening = sorted(
        {
            (stage, scenario)
            for (section, stage, scenario), made_of in parts.items()
            if scenario != AS_PLANNED
            and any(part.governs for part in _differing(made_of, parts[section, stage, AS_PLANNED]))
        }
    )
    for (section, stage, scenario), made_of in parts.items():
        governing = [part for part in made_of if part.governs]
        for part in governing:
            unions[part.name].append(stage_union(section, stage, scenario))
            if scenario == AS_PLANNED:
                unions[part.name] += [section, WHOLE]
        for event_stage, event in happening:
            # If the event happens at its stage, every other stage is as planned.
            if scenario != (
                event if stage == event_stage and (section, stage, event) in parts else AS_PLANNED
            ):
                continue
            for part in governing:
                unions[part.name] += [event_union(whole, event_stage, event) for whole in (section, WHOLE)]
    return tuple(
        component(part, columns, tuple(dict.fromkeys(unions[name])), stages.index(part.block.template.stage))
        for name, part in of.items()
    )


def _differing(one: Sequence[Part], other: Sequence[Part]) -> list[Part]:
    """Return the parts that only one of two has."""
    names = {part.name for part in one} ^ {part.name for part in other}
    return [part for part in (*one, *other) if part.name in names]


def component(
    part: Part, columns: Sequence[Column], unions: tuple[str, ...] = (), turn: int = 0
) -> Component:
    """Return the component that evaluates a part.

    Parameters
    ----------
    part
        The limit states, and their block.
    columns
        The whole column table.
    unions
        That it is part of.
    turn
        Of its stage among the stages.
    """
    states, template = part.states, part.block.template
    limits = bounds(template, columns)

    def respond(x: Array, which: Sequence[int]) -> Response:
        values: dict[int, Number] = dict(zip(template.columns, x.T, strict=True))
        filled = template.fill(values)
        impossible = impossible_rows(filled, values, limits)
        return _response(_outcomes([states[i] for i in which], filled), x.shape[0], impossible)

    return Component(
        name=part.name,
        unions=unions,
        columns=template.columns,
        labels=tuple(state.label for state in states),
        governing=tuple(state.member.governing for state in states),
        respond=respond,
        turn=turn,
    )


def _outcomes(states: Sequence[LimitState], block: Block) -> list[Outcome]:
    """Evaluate the limit states of a block, those of one mechanism together."""
    names: dict[str, list[str]] = defaultdict(list)
    for state in states:
        names[state.mechanism.name].append(state.member.name)
    of = {state.mechanism.name: state.mechanism for state in states}
    found = {
        (mechanism, name): outcome
        for mechanism, members in names.items()
        for name, outcome in zip(members, of[mechanism].evaluate(block, members), strict=True)
    }
    return [found[state.mechanism.name, state.member.name] for state in states]


def _response(outcomes: Sequence[Outcome], rows: int, impossible: Any) -> Response:
    """Stack the outcomes of several limit states, a column each."""
    shape = (rows, len(outcomes))
    margin = np.empty(shape, order="F")
    # Where nothing acts, or the ground holds itself back, it is as safe as can be, and there is no number to divide by.
    ratio = np.full(shape, np.inf, order="F")
    outside = np.zeros(shape, dtype=bool, order="F")
    for i, outcome in enumerate(outcomes):
        resistance, action = outcome.resistance, outcome.action
        np.subtract(resistance, action, out=margin[:, i])
        np.divide(resistance, action, out=ratio[:, i], where=np.greater(action, 0.0))
        for rows_outside in outcome.outside.values():
            if rows_outside is not False:
                outside[:, i] |= rows_outside
    if np.any(impossible):
        margin[np.broadcast_to(impossible, rows)] = np.nan
    return Response(margin, ratio, outside)
