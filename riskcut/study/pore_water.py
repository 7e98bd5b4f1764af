"""Rules on the water in the ground: perched water, pore pressures down to the aquifer, defects of the cut-off."""

from __future__ import annotations

from collections.abc import Iterator

from riskcut.study.errors import Path, near_matches, shown
from riskcut.study.schema import StageWater, Study
from riskcut.study.shape import Unknown
from riskcut.study.spelling import Said

AQUIFER: Path = ("water", "aquifer")


def check_pore_water(study: Study, unknown: Unknown) -> Iterator[Said]:
    """Yield what is at fault in perched water, and what needs an aquifer without one."""
    yield from _perched(study, unknown)
    if study.water.aquifer is not None or unknown.touches(AQUIFER):
        return
    path: Path = ("water", "pore_pressure")
    if study.water.pore_pressure == "to_aquifer" and path not in unknown:
        yield path, "to_aquifer without an aquifer", "aquifer under water, or hydrostatic"
    changes: list[tuple[Path, StageWater]] = [
        *((("stages", name, "water"), stage.water) for name, stage in study.stages.items()),
        *((("events", name, "water"), event.water) for name, event in study.events.items()),
    ]
    for path, water in changes:
        at = (*path, "aquifer_reaches")
        if water.aquifer_reaches is not None and at not in unknown:
            yield at, "a defect that reaches an aquifer, without one", "aquifer under water"


def _perched(study: Study, unknown: Unknown) -> Iterator[Said]:
    perched = study.water.perched
    path: Path = ("water", "perched")
    if perched is None or path in unknown or ("ground", "strata") in unknown:
        return
    names = list(study.ground.strata)
    if (*path, "on") in unknown:
        return
    if perched.on not in names:
        hint = near_matches(perched.on, names)
        yield (*path, "on"), shown(perched.on), f"one of the strata, {', '.join(names)}{hint}"
        return
    if names.index(perched.on) == 0:
        yield (
            (*path, "on"),
            f"{perched.on}, the first stratum",
            "a stratum below another that holds the water",
        )
        return
    top = study.ground.strata[perched.on].top.value
    if perched.level.value <= top:
        given = f"{perched.level.value:g}, not above the top of {perched.on} ({top:g})"
        yield (*path, "level"), given, "a level above the stratum that the water stands on"
    if study.water.table.value >= perched.level.value:
        given = f"{perched.level.value:g}, not above the water table ({study.water.table.value:g})"
        yield (*path, "level"), given, "a level above the table, or no perched water"
