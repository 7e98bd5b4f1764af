"""Rules on how numbers vary: what may be drawn once a stage, and over which period a maximum is stated."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from riskcut.study.errors import Path
from riskcut.study.quantity import Quantity
from riskcut.study.schema import Stage, StageWater, Study
from riskcut.study.shape import Unknown
from riskcut.study.spelling import Said
from riskcut.study.walk import quantities
from riskcut.uncertainty.maxima import MAXIMA

CARRIED = f"dist: {' or '.join(MAXIMA)}, which can be carried to a longer time"

ACTIONS = ("Water", "AquiferEntry", "Loads", "EdgeLoadEntry", "StageWater")
"""Mappings of the schema whose numbers are variable actions: drawn once a stage unless stated otherwise."""


def season_lengths(stages: Mapping[str, Stage]) -> dict[str, float]:
    """Return the years that each season lasts, a stage without one being a season by itself."""
    lengths: dict[str, float] = {}
    for name, stage in stages.items():
        season = stage.season or name
        lengths[season] = lengths.get(season, 0.0) + (stage.lasts or 0.0)
    return lengths


def variation(study: Study, unknown: Unknown) -> Iterator[Said]:
    """Yield every number that is said to vary in a way that it cannot."""
    for path, quantity, mapping in quantities(study):
        if path in unknown:
            continue
        action = mapping in ACTIONS
        by_itself = action and not (mapping == "StageWater" and path[-1] in StageWater.drawn_once)
        per_stage = quantity.varies == "per_stage" or (quantity.varies is None and by_itself)
        if quantity.varies == "per_stage" and not action:
            given = "per_stage for a number that is no variable action"
            yield (
                (*path, "varies"),
                given,
                "constant or per_section (per_stage is for water levels and loads)",
            )
        elif quantity.period is not None and not (action and per_stage):
            what = "a number that is drawn once" if action else "a number that is no variable action"
            wanted = "no period" if not action else "varies: per_stage, or no period"
            yield (*path, "period"), f"a period for {what}", wanted
        if quantity.shared_sd is not None and not per_stage:
            wanted = (
                "varies: per_stage, or no shared"
                if action
                else "no shared (it is for water levels and loads)"
            )
            yield (*path, "shared"), "a part that stages share, of a number that is drawn once", wanted
        if quantity.period is not None and action and per_stage:
            yield from _period(path, quantity, study, unknown)
    yield from _drawdown(study, unknown)


def _period(path: Path, quantity: Quantity, study: Study, unknown: Unknown) -> Iterator[Said]:
    """Yield why a maximum over a period cannot be carried to the length of each stage."""
    assert quantity.period is not None
    lengths = season_lengths(study.stages)
    stated = f"a maximum over {_duration(quantity.period)}"
    without = []
    for name in _in_force(path, study):
        stage = study.stages[name]
        if any(("stages", name, key) in unknown for key in ("lasts", "season")):
            continue
        if stage.lasts is None:
            without.append(name)
        elif lengths[stage.season or name] > quantity.period * (1 + 1e-9) and quantity.kind not in MAXIMA:
            years = lengths[stage.season or name]
            what = f"{stated}, {quantity.kind}, in a stage of {_duration(years)} ({name})"
            yield (*path, "period"), what, CARRIED
            return
    if without:
        given = f"{stated}, for stages that do not say how long they last ({', '.join(without)})"
        yield (*path, "period"), given, "lasts: a duration, such as 2 months, in each of them"


def _duration(years: float) -> str:
    """Return a duration in words."""
    number, unit = (years, "year") if years >= 1 else (12 * years, "month")
    return f"{number:.3g} {unit}{'' if f'{number:.3g}' == '1' else 's'}"


def _in_force(path: Path, study: Study) -> list[str]:
    """Return the stages in which a number acts: from where it is stated until a later stage changes it."""
    stages = list(study.stages)
    if path[0] == "events":
        return [name for name in study.events[str(path[1])].stages if name in stages]
    own = str(path[1]) if path[0] == "stages" else ""
    below = path[2:] if own else path
    if len(below) < 2 or below[1] == "aquifer":  # no stage states another head
        return stages
    acting = []
    for name in stages[stages.index(own) if own else 0 :]:
        group = getattr(study.stages[name], str(below[0]))
        if name != own and getattr(group, str(below[1])) is not None:
            break
        acting.append(name)
    return acting


def _drawdown(study: Study, unknown: Unknown) -> Iterator[Said]:
    if study.water.aquifer is not None or ("water", "aquifer") in unknown:
        return
    stated: list[tuple[Path, StageWater]] = [
        *((("stages", name, "water"), stage.water) for name, stage in study.stages.items()),
        *((("events", name, "water"), event.water) for name, event in study.events.items()),
    ]
    for path, water in stated:
        if water.drawdown is not None and (*path, "drawdown") not in unknown:
            wanted = "aquifer under water, whose head the wells lower"
            yield (*path, "drawdown"), "a drawdown without an aquifer", wanted
            return  # told once, not at each stage or event that changes it
