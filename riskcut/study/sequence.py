"""Rules on the order of the works: a stage digs, installs, casts, removes, in this order."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from riskcut.study.errors import Path, near_matches, nearest, one_of, shown
from riskcut.study.schema import Stage, StageWater, Study
from riskcut.study.shape import Unknown
from riskcut.study.spelling import Said

PILES = "tension_piles"

SURE = 0.8
"""Share of letters in common from which a wrong name says which right one was meant."""

PROP_ABOVE_SURFACE = 2.0
"""Metres above the ground surface up to which a prop may stand, on a wall that stands out of the ground."""


def sequence(study: Study, unknown: Unknown) -> Iterator[Said]:
    """Yield every step of the works that cannot be done when its stage comes."""
    if ("stages",) not in unknown:
        yield from _Works(study, unknown).steps()


class _Works:
    """What stands while the stages are gone through.

    After a step that is at fault the state is unknown rather than wrong: the formation is NaN, names are
    open, until a later stage settles it.
    """

    def __init__(self, study: Study, unknown: Unknown) -> None:
        self.study = study
        self.unknown = unknown
        self.surface = next(iter(study.ground.strata.values())).top.value
        self.formation = self.surface
        self.deepest = math.inf
        self.dug = False
        self.cast = False
        self.cast_unknown = False
        self.undug: list[Said] = []
        """Faults of steps that come before any dig: where nothing is ever dug, that alone is told."""
        self.below_the_dig: set[Path] = set()
        """Levels of water inside the cut of which this was told."""
        self.standing: set[str] = set()
        self.installed: set[str] = set()
        self.open_names = ("works", "props") in unknown
        """Whether something was installed that cannot be told, so that anything may stand."""
        self.supposed: set[str] = set()
        """What wrong names most likely stand for, or what was told already: nothing more is said of it."""

    def steps(self) -> Iterator[Said]:
        """Yield the faults stage by stage, then those of the whole."""
        for name, stage in self.study.stages.items():
            path: Path = ("stages", name)
            yield from self._dig(path, stage)
            if stage.overdig is not None and stage.dig_to is None and (*path, "dig_to") not in self.unknown:
                yield (
                    (*path, "overdig"),
                    "overdig in a stage that does not dig",
                    "dig_to beside it, or no overdig",
                )
            yield from self._install(path, stage)
            yield from self._cast(path, stage)
            yield from self._remove(path, stage)
            yield from self._inside(name, stage)
        yield from self._never()

    def _dig(self, path: Path, stage: Stage) -> Iterator[Said]:
        at = (*path, "dig_to")
        if at in self.unknown:
            self.dug, self.formation = True, math.nan
        elif stage.dig_to is not None:
            level, fault, after_cast = stage.dig_to.value, None, self.cast
            if after_cast:
                fault = f"{level:g} after the slab was cast", "no dig once the slab is cast"
                self.cast, self.cast_unknown = False, True  # told once, not at each dig that follows
            elif not self.dug and level >= self.surface:
                fault = f"{level:g}, not below the ground surface ({self.surface:g})", "a level below it"
            elif self.dug and level >= self.formation:
                given = f"{level:g}, not below what an earlier stage dug to ({self.formation:g})"
                fault = given, "a level below it"
            if fault is not None:
                yield at, *fault
            self.dug = True
            if not after_cast:
                self.formation = math.nan if fault else level
                below = stage.overdig.value if stage.overdig is not None else 0.0
                self.deepest = min(self.deepest, level - below)

    def _install(self, path: Path, stage: Stage) -> Iterator[Said]:
        at = (*path, "install")
        if at in self.unknown:
            self.open_names = True
        known = [*self.study.works.props, PILES]
        for index, name in enumerate(stage.install):
            if name not in known:
                if ("works", "props") not in self.unknown:
                    yield (*at, index), shown(name), f"{one_of(known)}{near_matches(name, known)}"
                self._suppose(name, known)
                continue
            if name in self.installed:
                yield (*at, index), f"{name} for the second time", "each installed once"
            elif name == PILES:
                none = self.study.works.tension_piles is None and PILES not in self.study.works.props
                if none and ("works", PILES) not in self.unknown:
                    yield (*at, index), name, "tension_piles under works, to say what they are"
            else:
                yield from self._level((*at, index), name)
            self.installed.add(name)
            self.standing.add(name)

    def _level(self, at: Path, prop: str) -> Iterator[Said]:
        level = self.study.works.props[prop].level.value
        if level <= self.formation and not self.dug:
            given = f"{prop} at {level:g}, in ground that is not dug yet ({self.formation:g})"
            self.undug.append((at, given, "a dig to below the prop first (a stage digs, then installs)"))
        elif level <= self.formation:
            given = f"{prop} at {level:g}, not above the dig ({self.formation:g})"
            yield at, given, "a dig to below the prop first (a stage digs, then installs)"
        elif level > self.surface + PROP_ABOVE_SURFACE:
            given = f"{prop} at {level:g}, far above the ground surface ({self.surface:g})"
            yield at, given, f"a level up to {PROP_ABOVE_SURFACE:g} m above the surface"

    def _cast(self, path: Path, stage: Stage) -> Iterator[Said]:
        at = (*path, "cast")
        if at in self.unknown:
            self.cast_unknown = True
        if stage.cast is None:
            return
        if self.study.works.slab is None and ("works", "slab") not in self.unknown:
            yield at, "slab", "slab under works, with thickness and unit_weight"
        elif self.cast:
            yield at, "slab for the second time", "one slab, cast once"
        elif not self.dug:
            self.undug.append((at, "slab before any dig", "a dig before it (a stage digs, then casts)"))
            self.cast_unknown = True
            return
        self.cast = True

    def _remove(self, path: Path, stage: Stage) -> Iterator[Said]:
        at = (*path, "remove")
        if at in self.unknown:
            self.open_names = True
        for index, name in enumerate(stage.remove):
            there = [prop for prop in self.study.works.props if prop in self.standing]
            wanted = f"a prop that stands: {', '.join(there) or 'none does'}"
            if name == PILES:
                yield (*at, index), name, "a prop (tension piles stay)"
            elif name in self.standing:
                self.standing.discard(name)
            elif name in self.study.works.props:
                if not self.open_names and name not in self.supposed:
                    yield (*at, index), f"{name}, which does not stand at this stage", wanted
                self.supposed.add(name)
            elif name not in self.supposed and ("works", "props") not in self.unknown:
                yield (*at, index), shown(name), wanted + near_matches(name, there)
                self._suppose(name, there)

    def _inside(self, name: str, stage: Stage) -> Iterator[Said]:
        """Yield the levels of water inside the cut, of a stage and of its events, that lie below the dig."""
        levels: list[tuple[Path, StageWater]] = [(("stages", name), stage.water)]
        levels += [(("events", n), e.water) for n, e in self.study.events.items() if name in e.stages]
        for path, water in levels:
            inside, at = water.inside, (*path, "water", "inside")
            if inside is None or at in self.unknown or at in self.below_the_dig:
                continue
            if inside.value < self.formation:
                self.below_the_dig.add(at)  # of an event in several stages: told once
                given = f"{inside.value:g}, below the dig ({self.formation:g})"
                yield at, given, "a level in the cut (leave it out where the cut is kept dry)"

    def _never(self) -> Iterator[Said]:
        """Yield what the stages as a whole leave undone."""
        works, unknown = self.study.works, self.unknown
        for prop in () if self.open_names else works.props:
            told = prop in self.installed or prop in self.supposed or ("works", "props", prop) in unknown
            if not told:
                yield ("works", "props", prop), "a prop that no stage installs", f"install: {prop} in a stage"
        never = works.tension_piles is not None and not {PILES} & (self.installed | self.supposed)
        if never and not self.open_names and ("works", PILES) not in unknown:
            yield ("works", PILES), "tension piles that no stage installs", f"install: {PILES} in a stage"
        never = works.slab is not None and not self.cast and not self.cast_unknown
        if never and ("works", "slab") not in unknown:
            yield ("works", "slab"), "a slab that no stage casts", "cast: slab in a stage"
        if self.dug:
            yield from self.undug
        else:
            yield ("stages",), "no stage that digs", "dig_to: a level below the ground surface, in a stage"
        if works.wall is not None and works.wall.toe.value >= self.deepest:
            given = f"{works.wall.toe.value:g}, not below the deepest dig ({self.deepest:g})"
            yield ("works", "wall", "toe"), given, "a toe below the dig that the wall retains"

    def _suppose(self, name: str, known: Sequence[str]) -> None:
        """Take a wrong name for the one that it nearly is; where none is near enough, anything may stand."""
        meant = nearest(name, known, SURE)
        self.open_names = self.open_names or meant is None
        self.supposed.update({name, meant or name})
