"""Loads beside the cut on props and base: against quadrature, and against the uniform surcharge."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from riskcut.ground.edge_load import patch_pressure, strip_pressure
from riskcut.mechanisms import base_heave, catalogue, edge_loads
from riskcut.mechanisms.spans import resultant
from riskcut.study.block import Block, EdgeLoad, Prop, Stratum

CLAY = (Stratum(name="clay", top=0.0, unit_weight=18.0, su_at_top=40.0, su_per_metre=1.0),)
PROPS = tuple(
    Prop(name=name, level=level, spacing=5.0, resistance=5000.0, made="steel", loaded=True)
    for name, level in (("upper", -1.0), ("lower", -5.0))
)


def cut(**changes: object) -> Block:
    numbers = {"width": 12.0, "length": 30.0, "formation": -9.0, "water_inside": -9.0, "water_table": -2.0}
    fixed = {"section": "s", "stage": "t", "strata": CLAY, "dug": True, "props": PROPS}
    return Block(**{**fixed, **numbers, "surcharge": 0.0, "temperature_rise": 0.0, **changes})


@pytest.mark.parametrize(
    "load",
    [
        EdgeLoad(name="crane", pressure=60.0, distance=1.5, width=3.0, length=6.0),
        EdgeLoad(name="store", pressure=20.0, distance=0.5, width=5.0),
        EdgeLoad(name="road", pressure=15.0, distance=4.0, width=8.0),
    ],
    ids=lambda load: load.name,
)
def test_straight_pieces_carry_the_whole_pressure(load):
    def pressure(z: float) -> float:
        numbers = {"depth": z, "pressure": load.pressure, "distance": load.distance, "width": load.width}
        return (
            strip_pressure(**numbers)
            if load.length is None
            else patch_pressure(**numbers, length=load.length)
        )

    unit = resultant(edge_loads.unit_diagram(load, depth=9.0), upper=0.0, lower=20.0)
    force, moment = (load.pressure * part for part in unit)
    assert force == pytest.approx(quad(pressure, 0, 9, limit=200)[0], rel=0.02)
    assert moment == pytest.approx(quad(lambda z: z * pressure(z), 0, 9, limit=200)[0], rel=0.02)


def test_an_endless_strip_at_the_wall_is_a_uniform_surcharge_on_props_in_clay():
    wide = EdgeLoad(name="field", pressure=10.0, distance=0.0, width=1e7)
    names = ("upper", "lower")
    prop = catalogue()["prop_overload"]
    by_edge = prop.evaluate(cut(edge_loads=(wide,)), names)
    uniform = prop.evaluate(cut(surcharge=10.0), names)
    for one, other in zip(by_edge, uniform, strict=True):
        assert one.action == pytest.approx(other.action, rel=1e-5)


def test_base_heave_takes_what_stands_on_the_failing_ground():
    half = EdgeLoad(name="stack", pressure=30.0, distance=0.0, width=12.0 / np.sqrt(2) / 2, length=15.0)
    loaded = base_heave.MECHANISM.outcome(cut(edge_loads=(half,)), "wide_cut").action
    bare = base_heave.MECHANISM.outcome(cut(), "wide_cut").action
    assert loaded - bare == pytest.approx(30.0 * 0.5 * 0.5, rel=1e-12)
    far = EdgeLoad(name="far", pressure=30.0, distance=20.0, width=3.0)
    assert base_heave.MECHANISM.outcome(cut(edge_loads=(far,)), "wide_cut").action == bare


def test_a_prop_near_a_patch_takes_more_and_rows_are_one_by_one():
    pressures = np.array([0.0, 40.0, 80.0])
    rows = cut(edge_loads=(EdgeLoad(name="crane", pressure=pressures, distance=2.0, width=3.0, length=5.0),))
    action = catalogue()["prop_overload"].outcome(rows, "upper").action
    assert np.all(np.diff(action) > 0)
    assert np.diff(action)[0] == pytest.approx(np.diff(action)[1], rel=1e-9)
    single = cut(edge_loads=(EdgeLoad(name="crane", pressure=40.0, distance=2.0, width=3.0, length=5.0),))
    assert catalogue()["prop_overload"].outcome(single, "upper").action == pytest.approx(action[1], rel=1e-12)


def test_rows_of_several_depths_are_each_cut_at_their_own():
    load = EdgeLoad(name="crane", pressure=1.0, distance=2.0, width=3.0, length=5.0)
    depths = np.array([4.0, 6.5, 9.0])
    together = resultant(edge_loads.unit_diagram(load, depth=depths), upper=0.0, lower=99.0)
    for i, depth in enumerate(depths):
        alone = resultant(edge_loads.unit_diagram(load, depth=float(depth)), upper=0.0, lower=99.0)
        assert [part[i] for part in together] == pytest.approx(alone, rel=1e-12)
