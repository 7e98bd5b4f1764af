"""What a mechanism says that it never reads changes nothing of it, to the last bit."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from riskcut.mechanisms import catalogue
from riskcut.study.block import Aquifer, Block, EdgeLoad, Sumps

OTHER = {
    "aquifer": (None, Aquifer(stratum="sand", head=7.7)),
    "water_table": (-6.0, 2.5),
    "water_inside": (-5.0, 0.0),
    "surcharge": (0.0, 87.0),
    "edge_loads": ((), (EdgeLoad(name="crane", pressure=90.0, distance=1.0, width=3.0),)),
    "temperature_rise": (-20.0, 35.0),
    "sumps": (None, Sumps(running=1, capacity=3.0)),
    "rain": (0.0, 60.0),
    "water_under_slab": (None, -1.5, 0.4),
}
"""Far from what the scenes hold."""

DECLARED = [
    (name, field)
    for name, mechanism in catalogue().items()
    for field in sorted(mechanism.unaffected_by | mechanism.unaffected_where_hydrostatic)
]


def test_some_mechanism_declares_something():
    assert DECLARED
    assert {field for _, field in DECLARED} <= {f.name for f in fields(Block)} & OTHER.keys()


@pytest.mark.parametrize(("name", "field"), DECLARED)
def test_a_field_that_is_never_read_changes_nothing(name, field, make_block):
    mechanism, block = catalogue()[name], make_block()
    names = [member.name for member in mechanism.members(block) if member.not_applicable is None]
    before = mechanism.evaluate(block, names)
    for value in OTHER[field]:
        changed = replace(block, **{field: value})
        assert mechanism.members(changed) == mechanism.members(block)
        for one, other in zip(before, mechanism.evaluate(changed, names), strict=True):
            assert np.array_equal(one.resistance, other.resistance)
            assert np.array_equal(one.action, other.action)


def test_the_check_sees_a_field_that_is_read(make_block):
    mechanism, block = catalogue()["plug_uplift"], make_block()
    moved = replace(block, aquifer=replace(block.aquifer, head=block.aquifer.head + 1.0))
    assert mechanism.outcome(block, "plug").action != mechanism.outcome(moved, "plug").action
