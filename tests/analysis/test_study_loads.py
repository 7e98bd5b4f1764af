"""Numbers of the study that reach the mechanisms: edge loads by stage, over-digging, wall and slab."""

from __future__ import annotations

import pytest
from small_studies import HEAVE

from riskcut.analysis.binding import bind
from riskcut.study.errors import StudyError

CRANE = "\nloads: {edge: {crane: {pressure: 50, distance: 2, width: 3, length: 6}}}\ntitle:"
TWO = ("dig_1: {dig_to: -12}", "dig_1: {dig_to: -6}\n  dig_2: {dig_to: -12, loads: {edge: {}}}")


def blocks(study, *changes):
    return [block.at_means for block in bind(study(HEAVE, *changes)).blocks]


def test_edge_loads_stand_until_a_stage_takes_them_away(study):
    first, second = blocks(study, ("\ntitle:", CRANE), TWO)
    (crane,) = first.edge_loads
    assert (crane.name, crane.pressure, crane.distance, crane.width, crane.length) == ("crane", 50, 2, 3, 6)
    assert second.edge_loads == ()


def test_an_uncertain_edge_load_is_drawn_once_a_stage(study):
    uncertain = CRANE.replace("pressure: 50", "pressure: {dist: gumbel, mean: 50, sd: 8}")
    two = ("dig_1: {dig_to: -12}", "dig_1: {dig_to: -6}\n  dig_2: {dig_to: -12}")
    columns = bind(study(HEAVE, ("\ntitle:", uncertain), two)).compiled.columns
    drawn = [c.stage for c in columns if c.address == "loads.edge.crane.pressure"]
    assert drawn == ["dig_1", "dig_2"]


def test_overdig_lowers_the_formation_of_its_dig_and_not_of_the_next(study):
    over = ("dig_1: {dig_to: -12}", "dig_1: {dig_to: -6, overdig: 0.3}\n  wait: {}\n  dig_2: {dig_to: -12}")
    assert [block.formation for block in blocks(study, over)] == pytest.approx([-6.3, -6.3, -12.0])


def test_overdig_without_a_dig_is_refused(study):
    with pytest.raises(StudyError, match="overdig in a stage that does not dig"):
        study(HEAVE, ("dig_1: {dig_to: -12}", "dig_1: {dig_to: -12}\n  wait: {overdig: 0.3}"))


def test_wall_and_slab_reach_the_block(study):
    works = (
        "works:\n",
        "works:\n  wall: {toe: -18, thickness: 0.8, top: 0.5}\n"
        "  slab: {thickness: 1.2, unit_weight: 24, fill: 15, heave_relief: 0.4, carries_walls: true}\n",
    )
    stages = (
        "dig_1: {dig_to: -12}",
        "dig_1: {dig_to: -12}\n  base: {cast: slab, water: {under_slab: -3}}\n  done: {phase: permanent}",
    )
    targets = ("{temporary: {beta: 2.0}}", "{temporary: {beta: 2.0}, permanent: {beta: 3.8}}")
    dig, base, done = blocks(study, works, stages, targets)
    assert (dig.wall.top, dig.wall.unit_weight, dig.slab, dig.water_under_slab) == (0.5, 24.0, None, None)
    assert (base.slab.fill, base.slab.heave_relief, base.slab.carries_walls) == (15.0, 0.4, True)
    assert (base.water_under_slab, done.water_under_slab) == (-3.0, -3.0)
    assert (base.permanent, done.permanent) == (False, True)
