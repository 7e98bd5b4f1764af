"""Events: what may happen during a stage, as scenarios beside the works as planned.

An event is no random variable: it happens with a stated probability, or at a rate over the stage's length, and
where it does the stage is another block. Two events in one stage are left to the sum of the two.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from riskcut.study.errors import Path, near_matches, shown
from riskcut.study.fields import A_NAME, NAME
from riskcut.study.schema import Event, Stage, Study
from riskcut.study.shape import Unknown
from riskcut.study.spelling import Said
from riskcut.study.standby import states_of_stages

AS_PLANNED = "as planned"
"""Name of the scenario in which no event happens."""


def probability(event: Event, stage: Stage) -> float:
    """Return the probability that an event happens during a stage: stated, or 1 - exp(-rate x length)."""
    if event.probability is not None:
        return event.probability
    assert event.rate is not None
    assert stage.lasts is not None
    return -math.expm1(-event.rate * stage.lasts)


def of_stage(study: Study, stage: str) -> dict[str, float]:
    """Return the events that may happen during a stage, with their probabilities."""
    return {
        name: probability(event, study.stages[stage])
        for name, event in study.events.items()
        if stage in event.stages
    }


def check_events(study: Study, unknown: Unknown) -> Iterator[Said]:
    """Yield every event that names no stage, changes nothing, or has no probability."""
    for name, event in study.events.items():
        path: Path = ("events", name)
        if path in unknown:
            continue
        if not NAME.fullmatch(name):
            yield path, f"the name {shown(name)}", A_NAME
        yield from _stages(path, event, study, unknown)
        chance = not any(unknown.touches((*path, key)) for key in ("rate", "probability"))
        if chance and (event.rate is None) == (event.probability is None):
            given = "neither rate nor probability" if event.rate is None else "both rate and probability"
            yield path, given, "one of the two"
        if not event.water.model_fields_set and not unknown.touches((*path, "water")):
            yield (
                (*path, "water"),
                "nothing that the event changes",
                "a level, or drawdown: 0 for wells that fail",
            )
    known = not any(unknown.touches(("water", key)) for key in ("relief_wells", "sumps"))
    standing = states_of_stages(study) if known else dict.fromkeys(study.stages, ([], []))
    for stage, entry in study.stages.items():
        together = [
            probability(event, entry)
            for event in study.events.values()
            if stage in event.stages and _known(event, entry)
        ]
        together += [state.probability for of_kind in standing[stage] for state in of_kind]
        if sum(together) >= 1.0:
            yield (
                ("stages", stage),
                f"what may happen in it, with probabilities that add up to {sum(together):.3g}",
                "less than 1",
            )


def _known(event: Event, stage: Stage) -> bool:
    """Whether an event has one probability in a stage."""
    by_rate = event.rate is not None and stage.lasts is not None
    return (event.probability is not None) != by_rate


def _stages(path: Path, event: Event, study: Study, unknown: Unknown) -> Iterator[Said]:
    if unknown.touches((*path, "stages")) or ("stages",) in unknown:
        return
    for stage in event.stages:
        if stage not in study.stages:
            hint = near_matches(stage, study.stages)
            yield (*path, "stages"), shown(stage), f"one of the stages, {', '.join(study.stages)}{hint}"
        elif (
            event.rate is not None
            and event.probability is None
            and study.stages[stage].lasts is None
            and ("stages", stage, "lasts") not in unknown
        ):
            given = f"a rate for the stage {stage}, whose length is not stated"
            yield (*path, "stages"), given, f"lasts: in the stage {stage}, or probability instead of rate"
