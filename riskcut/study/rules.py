"""Rules that tie several entries of a study together: names, levels, kinds and targets.

Rules on the order of the works are in :mod:`riskcut.study.sequence`, on how numbers vary in
:mod:`riskcut.study.variation`. No rule speaks of an entry that is faulty by itself, and an unknown
number (NaN) breaks none: one mistake is told once.
"""

from __future__ import annotations

from collections.abc import Iterator

from riskcut.study.errors import Path, near_matches, shown
from riskcut.study.events import check_events
from riskcut.study.fields import A_NAME, NAME
from riskcut.study.pore_water import check_pore_water
from riskcut.study.schema import Study, Target
from riskcut.study.sequence import PILES, sequence
from riskcut.study.shape import Unknown
from riskcut.study.spelling import Said
from riskcut.study.standby import check_standby
from riskcut.study.targets import fault_of
from riskcut.study.variation import variation


def check(study: Study, unknown: Unknown) -> Iterator[Said]:
    """Yield every broken rule of one section's study.

    Parameters
    ----------
    study
        A study of good shape, with stand-ins where it was faulty.
    unknown
        Addresses that were faulty by themselves: nothing more is said of them.
    """
    yield from _names(study, unknown)
    yield from _strata(study, unknown)
    yield from _aquifer(study, unknown)
    yield from check_pore_water(study, unknown)
    yield from _plan(study, unknown)
    yield from _targets(study, unknown)
    yield from sequence(study, unknown)
    yield from variation(study, unknown)
    yield from check_events(study, unknown)
    yield from check_standby(study, unknown)


def _names(study: Study, unknown: Unknown) -> Iterator[Said]:
    places: list[tuple[Path, dict[str, object]]] = [
        (("ground", "strata"), dict(study.ground.strata)),
        (("works", "props"), dict(study.works.props)),
        (("stages",), dict(study.stages)),
        (("loads", "edge"), dict(study.loads.edge or {})),
    ]
    places += [(("stages", n, "loads", "edge"), dict(s.loads.edge or {})) for n, s in study.stages.items()]
    for path, named in places:
        for name in named:
            if path not in unknown and not NAME.fullmatch(name):
                yield (*path, name), f"the name {shown(name)}", A_NAME
    if PILES in study.works.props and ("works", "props") not in unknown:
        given = f"the name {shown(PILES)} for a prop"
        yield ("works", "props", PILES), given, f"another name (install: {PILES} means the piles)"
    for stage, entry in study.stages.items():
        path = ("stages", stage, "season")
        if entry.season is not None and path not in unknown and not NAME.fullmatch(entry.season):
            yield path, f"the name {shown(entry.season)}", A_NAME


def _strata(study: Study, unknown: Unknown) -> Iterator[Said]:
    above: str | None = None
    for name, layer in study.ground.strata.items():
        path: Path = ("ground", "strata", name)
        if path in unknown:
            above = None
            continue
        kind_known = not any(unknown.touches((*path, key)) for key in ("su", "friction_angle"))
        if kind_known and (layer.su is None) == (layer.friction_angle is None):
            given = "neither su nor friction_angle" if layer.su is None else "both su and friction_angle"
            yield path, given, "su for an undrained layer or friction_angle for a drained one"
        elif (
            kind_known
            and layer.su is not None
            and layer.cohesion.value != 0
            and (*path, "cohesion") not in unknown
        ):
            given = "an effective cohesion for an undrained layer"
            yield (*path, "cohesion"), given, "friction_angle beside it (drained), or su alone (undrained)"
        if kind_known and layer.su is None:
            for key in ("long_term", "consolidation"):
                if getattr(layer, key) is not None and not unknown.touches((*path, key)):
                    yield (*path, key), f"{key} of a drained layer", "it only in a layer with su (undrained)"
        if above is not None:
            top_above = study.ground.strata[above].top.value
            if layer.top.value >= top_above:
                yield (
                    (*path, "top"),
                    f"{layer.top.value:g}, not below the top of {above} ({top_above:g})",
                    "strata in order from the surface down, each top below the one before",
                )
        above = name


def _aquifer(study: Study, unknown: Unknown) -> Iterator[Said]:
    aquifer = study.water.aquifer
    path: Path = ("water", "aquifer", "stratum")
    if aquifer is None or path in unknown or ("ground", "strata") in unknown:
        return
    names = list(study.ground.strata)
    if aquifer.stratum not in names:
        hint = near_matches(aquifer.stratum, names)
        yield path, shown(aquifer.stratum), f"one of the strata, {', '.join(names)}{hint}"
    elif names.index(aquifer.stratum) == 0:
        yield path, f"{aquifer.stratum}, the first stratum", "a stratum below another that confines it"
    else:
        layer, place = study.ground.strata[aquifer.stratum], ("ground", "strata", aquifer.stratum)
        if layer.su is not None and layer.friction_angle is None and not unknown.touches(place):
            yield (
                path,
                f"{aquifer.stratum}, which is undrained",
                "a drained stratum (one with friction_angle)",
            )


def _plan(study: Study, unknown: Unknown) -> Iterator[Said]:
    cut = study.works.cut
    if cut.width.value > cut.length.value:
        yield (
            ("works", "cut", "width"),
            f"{cut.width.value:g}, more than the length {cut.length.value:g}",
            "the shorter side as width, the longer as length",
        )
    if cut.start is not None and cut.end is not None and cut.end.value <= cut.start.value:
        given = f"{cut.end.value:g}, not beyond the start ({cut.start.value:g})"
        yield ("works", "cut", "end"), given, "a chainage beyond the section's start"
    elif (cut.start is None) != (cut.end is None):
        there, missing = ("start", "end") if cut.end is None else ("end", "start")
        if ("works", "cut", missing) not in unknown:
            yield ("works", "cut"), f"{there} without {missing}", "both chainages or neither"
    wall = study.works.wall
    if wall is not None and wall.top is not None and wall.top.value <= wall.toe.value:
        given = f"{wall.top.value:g}, not above the toe ({wall.toe.value:g})"
        yield ("works", "wall", "top"), given, "a level above the wall's toe"
    for name, prop in study.works.props.items():
        path: Path = ("works", "props", name)
        known = not any((*path, key) in unknown for key in ("area", "modulus"))
        if known and (prop.area is None) != (prop.modulus is None):
            given = "modulus without area" if prop.area is None else "area without modulus"
            yield path, given, "both (the load from temperature needs them) or neither"
    piles = study.works.tension_piles
    if piles is None:
        return
    for key, spacing in (
        ("spacing_along", piles.spacing_along.value),
        ("spacing_across", piles.spacing_across.value),
    ):
        diameter = piles.diameter.value
        if spacing <= diameter:
            given = f"{spacing:g}, not more than the piles' diameter ({diameter:g})"
            yield (
                ("works", "tension_piles", key),
                given,
                "a spacing centre to centre that keeps the piles apart",
            )


def _targets(study: Study, unknown: Unknown) -> Iterator[Said]:
    places: list[tuple[Path, Target | None]] = [
        (("targets", phase), getattr(study.targets, phase)) for phase in ("temporary", "permanent")
    ]
    places += [(("stages", name, "target"), stage.target) for name, stage in study.stages.items()]
    for path, target in places:
        if target is not None and not unknown.touches(path) and (fault := fault_of(target)) is not None:
            yield path, *fault
    for phase in ("temporary", "permanent"):
        if getattr(study.targets, phase) is not None or ("targets", phase) in unknown:
            continue
        without = [
            name
            for name, stage in study.stages.items()
            if stage.phase == phase
            and stage.target is None
            and not any(("stages", name, key) in unknown for key in ("phase", "target"))
        ]
        if without:
            more = f" (as {', '.join(without[1:])})" if len(without) > 1 else ""
            given = f"a {phase} stage without a target{more}"
            wanted = f"targets: {{{phase}: {{beta: 3.3, period: stage}}}}, say, or a target of its own"
            yield ("stages", without[0]), given, wanted
