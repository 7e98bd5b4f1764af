"""Blocks to try mechanisms on: one maker of a plain block, and scenes of random rows.

A scene is one section at one stage with every number random over the range in which the mechanisms are
meant to be used. Together the scenes show every part of a block (slab, piles, props, aquifer, flood, tide)
and every kind of ground, so a new mechanism is tried on all of them by being in its folder.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from riskcut.mechanisms import catalogue
from riskcut.study.block import Aquifer, Block, EdgeLoad, LongTerm, Piles, Prop, Slab, Stratum, Sumps, Wall

ROWS = 1200


def plain_block(**changes: Any) -> Block:
    """Return a dry 9 m cut in clay over a sand aquifer, all floats, with some entries changed."""
    prop = Prop(
        name="upper", level=-1.0, spacing=4.0, resistance=3000.0, made="steel", loaded=True, area=0.03
    )
    block = Block(
        section="north",
        stage="dig_3",
        width=8.0,
        length=40.0,
        strata=(
            Stratum(name="soft", top=0.0, unit_weight=17.0, su_at_top=25.0, su_per_metre=1.5),
            Stratum(name="firm", top=-12.0, unit_weight=19.0, su_at_top=60.0),
            Stratum(name="sand", top=-20.0, unit_weight=20.0, friction_angle=36.0),
        ),
        formation=-9.0,
        dug=True,
        water_table=-1.0,
        water_inside=-9.0,
        surcharge=10.0,
        temperature_rise=10.0,
        aquifer=Aquifer(stratum="sand", head=-2.0),
        wall=Wall(toe=-16.0, thickness=0.8),
        props=(
            replace(prop, modulus=210e6),
            replace(prop, name="middle", level=-3.5),
            replace(prop, name="lower", level=-6.5),
        ),
    )
    return replace(block, **changes)


def _conducting(strata: tuple[Stratum, ...], u: Callable[[float, float], np.ndarray]) -> tuple[Stratum, ...]:
    """Return the strata with permeabilities, m/s."""
    return tuple(
        replace(s, permeability=10.0 ** (u(-10.0, -8.0) if s.undrained else u(-6.0, -4.0))) for s in strata
    )


def _random(rng: np.random.Generator) -> Callable[[float, float], np.ndarray]:
    return lambda low, high: rng.uniform(low, high, ROWS)


def _piles(u: Callable[[float, float], np.ndarray], head: np.ndarray) -> Piles:
    return Piles(
        diameter=u(0.5, 0.9),
        length=u(14.0, 24.0),
        head=head,
        spacing_along=u(3.0, 5.0),
        spacing_across=u(3.0, 5.0),
        adhesion=u(0.3, 0.7),
        shaft_ratio=u(0.2, 0.5),
        steel_resistance=u(400.0, 2500.0),
    )


def _deep(rng: np.random.Generator) -> Block:
    """Narrow cut in clay, piles installed, no slab; water inside or a tide over the ground in some rows."""
    u = _random(rng)
    formation = u(-12.0, -8.5)
    common = {"made": "steel", "loaded": True, "restraint": u(0.5, 1.0), "area": u(0.01, 0.05)}
    props = tuple(
        Prop(
            name=name,
            level=u(*between),
            spacing=u(3.0, 6.0),
            resistance=u(1e3, 6e3),
            modulus=u(190e6, 215e6),
            **common,
        )
        for name, between in {"upper": (-1.6, -0.6), "middle": (-4.6, -3.4), "lower": (-7.6, -6.4)}.items()
    )
    return Block(
        section="deep",
        stage="dig",
        width=u(5.0, 8.0),
        length=u(10.0, 60.0),
        strata=(
            Stratum(
                name="soft",
                top=0.0,
                unit_weight=u(15.5, 18.5),
                su_at_top=u(12.0, 45.0),
                su_per_metre=u(0.0, 3.0),
            ),
            Stratum(
                name="firm",
                top=u(-14.0, -6.0),
                unit_weight=u(18.0, 20.5),
                su_at_top=u(30.0, 90.0),
                su_per_metre=u(0.0, 4.0),
            ),
            Stratum(
                name="sand", top=u(-26.0, -16.0), unit_weight=u(18.0, 21.0), friction_angle=u(30.0, 40.0)
            ),
        ),
        formation=formation,
        dug=True,
        water_table=u(-3.0, 2.0),
        water_inside=formation + np.maximum(u(-3.0, 3.0), 0.0),
        surcharge=u(0.0, 30.0),
        temperature_rise=u(-10.0, 25.0),
        aquifer=Aquifer(stratum="sand", head=u(-6.0, 3.0)),
        wall=Wall(
            toe=u(-17.0, -13.0),
            thickness=0.8,
            top=u(-0.2, 1.5),
            adhesion=u(0.2, 0.8),
            friction_ratio=u(0.1, 0.4),
        ),
        rain=u(0.0, 30.0),
        sumps=Sumps(running=2, capacity=u(2.0, 30.0), runoff=u(0.5, 1.0)),
        props=props,
        piles=_piles(u, formation),
        model_factors={
            f"{mechanism}/{member}": u(0.6, 1.4)
            for mechanism, members in {
                "base_heave": ("bearing", "wide_cut", "finite_cut"),
                "plug_uplift": ("plug", "with_walls"),
                "sump_flooding": ("pumps",),
                "prop_overload": ("upper", "middle", "lower"),
                "hydraulic_heave": ("prism_effective", "prism_total", "exit_gradient"),
                "flotation": ("structure",),
                "long_term_heave": ("slab",),
            }.items()
            for member in members
        },
    )


def _wide(rng: np.random.Generator) -> Block:
    u = _random(rng)
    return replace(_deep(rng), section="wide", width=u(14.0, 30.0), length=u(30.0, 90.0), piles=None)


def _slab(rng: np.random.Generator) -> Block:
    u = _random(rng)
    return replace(_deep(rng), section="slab", slab=Slab(thickness=u(0.6, 2.0), unit_weight=u(23.0, 25.0)))


def _sand(rng: np.random.Generator) -> Block:
    """Sand down to below the formation: the water stands apart."""
    u = _random(rng)
    strata = (
        Stratum(name="fill", top=0.0, unit_weight=u(16.0, 19.0), friction_angle=u(28.0, 33.0)),
        Stratum(name="gravel", top=u(-4.0, -2.0), unit_weight=u(18.0, 21.0), friction_angle=u(32.0, 42.0)),
        Stratum(name="clay", top=u(-15.0, -13.0), unit_weight=u(18.0, 20.0), su_at_top=u(40.0, 90.0)),
        Stratum(name="sand", top=u(-24.0, -20.0), unit_weight=u(18.0, 21.0), friction_angle=u(30.0, 40.0)),
    )
    return replace(_deep(rng), section="sand", strata=strata, piles=None)


def _mixed(rng: np.random.Generator) -> Block:
    """Sand over clay, read through equivalents by the props."""
    u = _random(rng)
    deep = _deep(rng)
    fill = Stratum(name="fill", top=0.0, unit_weight=u(16.0, 19.0), friction_angle=u(28.0, 35.0))
    soft = replace(deep.strata[0], top=u(-5.0, -1.0))
    return replace(deep, section="mixed", strata=(fill, soft, *deep.strata[1:]), piles=None)


def _finished(rng: np.random.Generator) -> Block:
    """The finished box in clay under fill: walls hang on the slab, the water under it has a level of its own."""
    u = _random(rng)
    slab = Slab(
        thickness=u(0.6, 2.0),
        unit_weight=u(23.0, 25.0),
        fill=u(0.0, 40.0),
        heave_relief=u(0.2, 0.9),
        carries_walls=True,
    )
    deep = _deep(rng)
    wall = replace(deep.wall, thickness=u(0.6, 1.2), top=u(2.5, 4.0), unit_weight=u(23.0, 25.0))
    fill = Stratum(name="fill", top=0.0, unit_weight=u(16.0, 19.0), friction_angle=u(28.0, 35.0))
    soft = replace(deep.strata[0], top=u(-5.0, -1.0))
    return replace(
        deep,
        section="finished",
        strata=(fill, soft, *deep.strata[1:]),
        permanent=True,
        slab=slab,
        wall=wall,
        water_under_slab=u(-7.0, 1.0),
    )


def _drained(rng: np.random.Generator) -> Block:
    """A long cut in sand over clay, some rows on sand without end, flooded outside in some."""
    u = _random(rng)
    strata = (
        Stratum(name="fill", top=0.0, unit_weight=u(16.0, 19.0), friction_angle=u(28.0, 33.0)),
        Stratum(name="gravel", top=u(-4.0, -2.0), unit_weight=u(18.0, 21.0), friction_angle=u(32.0, 42.0)),
        Stratum(name="clay", top=u(-60.0, -22.0), unit_weight=u(18.0, 20.0), su_at_top=u(40.0, 90.0)),
    )
    deep = _deep(rng)
    return replace(
        deep,
        section="drained",
        strata=strata,
        width=u(4.0, 25.0),
        length=u(50.0, 90.0),
        wall=replace(deep.wall, toe=u(-21.0, -14.0)),
        aquifer=None,
        piles=None,
    )


def _in_the_aquifer(rng: np.random.Generator) -> Block:
    """A long cut through clay into the aquifer below it, water inside in many rows."""
    u = _random(rng)
    drained = _drained(rng)
    clay = Stratum(name="clay", top=0.0, unit_weight=u(16.0, 19.0), su_at_top=u(20.0, 60.0))
    sand = Stratum(name="sand", top=u(-7.0, -5.0), unit_weight=u(18.0, 21.0), friction_angle=u(30.0, 40.0))
    aquifer = Aquifer(stratum="sand", head=u(-6.0, 1.0))
    return replace(drained, section="in_the_aquifer", strata=(clay, sand), aquifer=aquifer)


def _swelling(rng: np.random.Generator) -> Block:
    """Clay that states its long-term strength, beside a wall that states its bending; it bends too far in some rows."""
    u = _random(rng)
    deep = _deep(rng)
    strata = tuple(
        replace(
            s,
            long_term=LongTerm(friction_angle=u(20.0, 30.0), cohesion=u(0.0, 8.0)),
            consolidation=u(0.5, 9.0),
        )
        if s.undrained
        else s
        for s in deep.strata
    )
    wall = replace(deep.wall, bending_resistance=u(200.0, 3000.0))
    factors = {f"base_heave/{m}": u(0.6, 1.4) for m in ("embedded_wall", "circle", "with_piles")}
    factors["drained_base_heave/footing"] = u(0.6, 1.4)
    return replace(
        deep,
        section="swelling",
        strata=strata,
        wall=wall,
        water_table=u(-4.0, -1.0),
        aquifer=Aquifer(stratum="sand", head=u(-14.0, -9.0)),
        open_for=0.5,
        model_factors={**deep.model_factors, **factors},
    )


def _loaded(rng: np.random.Generator) -> Block:
    """The wide cut with a strip and a patch of load at its edge."""
    u = _random(rng)
    loads = (
        EdgeLoad(name="spoil", pressure=u(0.0, 40.0), distance=u(0.5, 4.0), width=u(1.0, 6.0)),
        EdgeLoad(
            name="crane", pressure=u(0.0, 80.0), distance=u(0.0, 8.0), width=u(1.0, 4.0), length=u(2.0, 8.0)
        ),
    )
    return replace(_wide(rng), section="loaded", edge_loads=loads)


SCENES = {
    "deep": _deep,
    "wide": _wide,
    "slab": _slab,
    "sand": _sand,
    "mixed": _mixed,
    "finished": _finished,
    "drained": _drained,
    "in_the_aquifer": _in_the_aquifer,
    "swelling": _swelling,
    "loaded": _loaded,
}


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run what asks for a ``mechanism_name`` or a ``scene_name`` once for each."""
    if "mechanism_name" in metafunc.fixturenames:
        metafunc.parametrize("mechanism_name", list(catalogue()))
    if "scene_name" in metafunc.fixturenames:
        metafunc.parametrize("scene_name", list(SCENES))


@pytest.fixture(scope="session")
def scenes() -> dict[str, Block]:
    """Return the scenes by name, enough rows for 1,000 within the range of use."""
    found = {}
    for i, (name, make) in enumerate(SCENES.items()):
        rng = np.random.default_rng(20_261 + i)
        block = make(rng)
        found[name] = replace(block, strata=_conducting(block.strata, _random(rng)))
    return found


@pytest.fixture
def make_block() -> Callable[..., Block]:
    """Return the maker of the plain block."""
    return plain_block
