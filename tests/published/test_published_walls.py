"""Walls of published examples, worked from our pressures: equilibrium is solved here, by root finding."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from scipy.optimize import brentq

from riskcut.ground import earth_pressure, effective_stress, lateral_pressure, wall_coefficients
from riskcut.ground.resultant import Resultant, resultant
from riskcut.ground.straight import Piece, value_at
from riskcut.ground.water import GAMMA_W
from riskcut.study.block import Stratum

GROUP = "walls"
ACTIVE = partial(wall_coefficients.active, method="rankine")
PASSIVE = partial(wall_coefficients.passive, method="rankine")
DEEP = 20.0

Pressures = tuple[Piece, ...]


def sides(
    inputs: Mapping[str, Any], below: dict[str, float]
) -> tuple[Pressures, Pressures, Pressures, Pressures]:
    """Return active and passive pressure outside and inside a wall, in total, from the surface at level 0.

    The ground is sand to the dredge line, and below it what is named; water stands at one level on both sides.
    """
    water, dredge = -inputs["above_water"], -inputs["above_water"] - inputs["below_water"]
    wet = inputs["buoyant_unit_weight"] + GAMMA_W
    sand = {"friction_angle": inputs["friction_angle"]}
    strata = (
        Stratum(name="dry", top=0.0, unit_weight=inputs["unit_weight"], **sand),
        Stratum(name="wet", top=water, unit_weight=wet, **sand),
        Stratum(name="below", top=dredge, unit_weight=wet, **below),
    )
    end = GAMMA_W * (water + DEEP)
    free = Piece(water, dredge, 0.0, GAMMA_W * (water - dredge))
    outside = effective_stress.layers(strata, (Piece(0.0, water, 0.0, 0.0), Piece(water, -DEEP, 0.0, end)))
    inside = effective_stress.layers(strata, (Piece(dredge, -DEEP, free.at_lower, end),))
    return (
        lateral_pressure.active_unbroken(outside, coefficients=ACTIVE),
        lateral_pressure.passive(outside, coefficients=PASSIVE),
        (free, *lateral_pressure.active_unbroken(inside, coefficients=ACTIVE)),
        (free, *lateral_pressure.passive(inside, coefficients=PASSIVE)),
    )


def net(outside: Pressures, inside: Pressures, *, about: float, lower: float) -> Resultant:
    one, other = (resultant(pieces, about=about, lower=lower) for pieces in (outside, inside))
    return Resultant(one.force - other.force, one.moment - other.moment)


def net_at(outside: Pressures, inside: Pressures, *, level: float) -> float:
    return float(value_at(outside, level=level) - value_at(inside, level=level))


def propped(inputs: Mapping[str, Any]) -> dict[str, Any]:
    """Solve free earth support: moments about the prop give the toe, forces the prop, no shear the moment."""
    outside, _, _, inside = sides(inputs, {"friction_angle": inputs["friction_angle"]})
    dredge, prop = -inputs["above_water"] - inputs["below_water"], -inputs["prop_depth"]
    below = dredge - 1e-9
    zero = brentq(lambda z: net_at(outside, inside, level=z), -DEEP, below, xtol=1e-13)
    load = net(outside, inside, about=zero, lower=zero)
    toe = brentq(lambda z: net(outside, inside, about=prop, lower=z).moment, -DEEP, zero, xtol=1e-13)
    force = net(outside, inside, about=prop, lower=toe).force
    no_shear = brentq(
        lambda z: net(outside, inside, about=prop, lower=z).force - force, dredge, prop, xtol=1e-13
    )
    at = net(outside, inside, about=no_shear, lower=no_shear)
    return {
        "pressure_at_water": net_at(outside, inside, level=-inputs["above_water"]),
        "pressure_at_dredge_line": net_at(outside, inside, level=dredge),
        "depth_of_zero": dredge - zero,
        "thrust": load.force,
        "arm_above_zero": -load.moment / load.force,
        "depth_below_zero": zero - toe,
        "embedment": dredge - toe,
        "prop_force": force,
        "largest_moment": at.moment + force * (prop - no_shear),
    }


def pressure_diagram(inputs: Mapping[str, Any]) -> dict[str, Any]:
    height = inputs["above_water"] + inputs["below_water"]
    weight = (
        inputs["unit_weight"] * inputs["above_water"] + inputs["buoyant_unit_weight"] * inputs["below_water"]
    )
    active = earth_pressure.rankine_active(friction_angle=inputs["friction_angle"])
    pressed = inputs["active_share"] * active * weight
    outside = (Piece(0.0, -height, pressed, pressed),)
    held = inputs["passive_share"] * pressed
    inside = (Piece(-height, -3.0 * height, held, held),)
    prop = -inputs["prop_depth"]
    toe = brentq(
        lambda z: net(outside, inside, about=prop, lower=z).moment, -3.0 * height, -height, xtol=1e-12
    )
    force = net(outside, inside, about=prop, lower=toe).force
    no_shear = brentq(
        lambda z: net(outside, inside, about=prop, lower=z).force - force, -height, prop, xtol=1e-12
    )
    at = net(outside, inside, about=no_shear, lower=no_shear)
    return {
        "embedment": -height - toe,
        "prop_force": force,
        "largest_moment": at.moment + force * (prop - no_shear),
    }


def cantilever(inputs: Mapping[str, Any]) -> dict[str, Any]:
    """Solve the book's diagram: net passive inside, turning in a straight line to net passive outside at the toe."""
    of_clay = {"su_at_top": inputs["strength"]}
    active_outside, passive_outside, active_inside, passive_inside = sides(inputs, of_clay)
    dredge = -inputs["above_water"] - inputs["below_water"]
    load = net(active_outside, passive_inside, about=dredge, lower=dredge)

    def turning(embedment: float) -> tuple[Pressures, float]:
        """Return the net pressure below the dredge line, towards the inside positive, for no force in all."""
        toe = dredge - embedment
        held = -net_at(active_outside, passive_inside, level=toe)
        back = net_at(passive_outside, active_inside, level=toe)
        height = 2.0 * (held * embedment - load.force) / (held + back)
        turn = toe + height
        return (Piece(dredge, turn, -held, -held), Piece(turn, toe, -held, back)), toe

    def imbalance(embedment: float) -> float:
        pieces, toe = turning(embedment)
        moment = resultant(pieces, about=toe).moment
        return moment + load.moment + load.force * (toe - dredge)

    embedment = brentq(imbalance, 1.0, 5.0, xtol=1e-13)
    pieces, _ = turning(embedment)
    assert abs(resultant(pieces, about=0.0).force + load.force) < 1e-9
    return {
        "thrust": load.force,
        "arm_above_dredge_line": -load.moment / load.force,
        "embedment": embedment,
        "embedment_built": 1.5 * embedment,
    }


def free_height(inputs: Mapping[str, Any]) -> dict[str, Any]:
    of = Stratum(name="clay", top=0.0, unit_weight=inputs["unit_weight"], su_at_top=inputs["strength"])
    parts = effective_stress.layers((of,), (Piece(0.0, -DEEP, 0.0, 0.0),))
    pulling = lateral_pressure.active_unbroken(parts, coefficients=ACTIVE)
    cracked = lateral_pressure.active(parts, coefficients=ACTIVE)
    height = brentq(lambda h: resultant(pulling, about=0.0, lower=-h).force, 1.0, DEEP, xtol=1e-12)
    return {"height": height, "crack": -cracked[0].lower}


SOLUTIONS = {"D1": propped, "D3": pressure_diagram, "D5": cantilever, "A7": free_height}


def test_published(case: dict[str, Any], compare: Callable[..., None]) -> None:
    compare(case, SOLUTIONS[case["id"]](case["inputs"]))
