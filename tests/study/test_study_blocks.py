"""What stands at each stage, as a mechanism sees it."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from study_texts import BOX, CUTS, at_means, changed, compiled, template

from riskcut.study.block import Block
from riskcut.study.compiling import Compiled
from riskcut.study.template import bounds, impossible_rows

STAGES = ["dig_a", "frame_a", "dig_b", "dig_c", "base", "strip", "service"]


def test_blocks_are_by_section_then_by_stage() -> None:
    assert [(t.section, t.stage) for t in compiled(BOX).templates] == [
        ("whole_cut", stage) for stage in STAGES
    ]
    assert [(t.section, t.stage) for t in compiled(CUTS).templates] == [
        (section, stage) for section in ("west", "east", "portal") for stage in ("first", "second")
    ]


def test_the_formation_is_the_last_dig() -> None:
    study = compiled(BOX)
    assert [at_means(study, stage).formation for stage in STAGES] == [2.2, 2.2, -2, -5, -5, -5, -5]
    assert all(at_means(study, stage).dug for stage in STAGES)


def test_before_any_dig_the_formation_is_the_ground_surface() -> None:
    study = compiled(changed(BOX, ("  dig_a:\n", "  before:\n    lasts: 1 month\n  dig_a:\n")))
    block = at_means(study, "before")
    assert not block.dug
    assert block.formation == block.surface == 4.0
    assert impossible_rows(block, study.means, bounds(template(study, "before"), study.columns)) is False


def test_an_overdig_lowers_the_formation_until_the_next_dig_but_not_the_piles() -> None:
    text = changed(
        BOX,
        ("    dig_to: -2.0\n", "    dig_to: -2.0\n    overdig: 0.3\n"),
        ("    dig_to: {mean: -5.0, sd: 0.1}\n", "    dig_to: -5.0\n    overdig: {low: 0.0, high: 0.4}\n"),
    )
    study = compiled(text)
    formations = [at_means(study, stage).formation for stage in STAGES]
    assert formations == pytest.approx([2.2, 2.2, -2.3, -5.2, -5.2, -5.2, -5.2])
    assert [piles.head for stage in STAGES if (piles := at_means(study, stage).piles)] == [-5.0] * 5


def test_a_formation_lies_open_from_the_stage_that_digs_to_it() -> None:
    month, week = 1 / 12, 7 / 365.25
    study = compiled(BOX)
    after_dig_c = np.cumsum([6 * week, month, 3 * week, 50.0])
    wanted = [month, month + 2 * week, 2 * month, *after_dig_c]
    assert [at_means(study, stage).open_for for stage in STAGES] == pytest.approx(wanted, rel=1e-3)
    unsaid = compiled("""
title: Lengths that are not stated
targets: {temporary: {beta: 3}}
ground: {strata: {clay: {top: 0, unit_weight: 18, su: 60}}}
water: {table: -1}
works: {cut: {width: 9, length: 20}}
stages:
  first: {dig_to: -2, lasts: 1 month}
  wait: {}
  on: {lasts: 1 month}
  second: {dig_to: -4, lasts: 1 year}
""")
    assert [at_means(unsaid, stage).open_for for stage in ("first", "wait", "on", "second")] == [
        month,
        None,
        None,
        1.0,
    ]


def test_what_is_built_stands_from_its_stage_on() -> None:
    study = compiled(BOX)
    blocks = [at_means(study, stage) for stage in STAGES]
    assert [[prop.name for prop in block.props] for block in blocks] == [
        [],
        ["top_frame"],
        ["top_frame", "low_frame"],
        ["top_frame", "low_frame"],
        ["top_frame", "low_frame"],
        ["top_frame"],
        ["top_frame"],
    ]
    assert [block.slab is not None for block in blocks] == [False] * 4 + [True] * 3
    assert [block.piles is not None for block in blocks] == [False] * 2 + [True] * 5
    assert all(block.wall is not None and block.aquifer is not None for block in blocks)


def test_a_prop_is_loaded_by_a_dig_or_by_the_loss_of_another() -> None:
    study = compiled(BOX)

    def loaded(stage: str) -> dict[str, bool]:
        return {prop.name: prop.loaded for prop in at_means(study, stage).props}

    assert loaded("frame_a") == {"top_frame": False}
    assert loaded("dig_b") == {"top_frame": True, "low_frame": False}  # the stage digs before it installs
    assert loaded("dig_c") == {"top_frame": True, "low_frame": True}
    assert loaded("strip") == {"top_frame": True}


def test_a_prop_that_was_never_dug_under_is_loaded_when_another_goes() -> None:
    text = changed(
        BOX,
        ("    install: [low_frame, tension_piles]", "    install: tension_piles"),
        ("    dig_to: {mean: -5.0, sd: 0.1}\n", "    dig_to: -5.0\n    install: low_frame\n"),
        ("    remove: low_frame", "    remove: top_frame"),
    )
    study = compiled(text)
    assert [prop.loaded for prop in at_means(study, "base").props] == [True, False]
    assert [(prop.name, prop.loaded) for prop in at_means(study, "strip").props] == [("low_frame", True)]


def test_props_are_listed_from_the_top_down() -> None:
    text = changed(
        BOX,
        ("      level: 3.0", "      level: -1.5"),
        ("    install: top_frame", "    install: low_frame"),
        ("    install: [low_frame, tension_piles]", "    install: [top_frame, tension_piles]"),
        ("      level: -1.0", "      level: 2.5"),
    )
    props = at_means(compiled(text), "dig_c").props
    assert [prop.level for prop in props] == [2.5, -1.5]


def test_the_head_of_the_piles_is_the_finished_formation_at_every_stage() -> None:
    study = compiled(BOX)
    assert [piles.head for stage in STAGES if (piles := at_means(study, stage).piles)] == [-5.0] * 5
    values = {**study.means, _index(study, "stages.dig_c.dig_to"): -5.25}
    for stage in ("dig_b", "service"):
        piles = template(study, stage).fill(values).piles
        assert piles is not None
        assert piles.head == -5.25


def _index(study: Compiled, address: str, stage: str = "") -> int:
    return next(i for i, c in enumerate(study.columns) if (c.address, c.stage) == (address, stage))


def test_a_change_of_a_stage_lasts() -> None:
    text = changed(
        BOX,
        (
            "    dig_to: {mean: -5.0, sd: 0.1}\n",
            "    dig_to: -5.0\n    water: {table: 3.0}\n    loads: {surcharge: 20}\n",
        ),
        (
            "    remove: low_frame\n",
            "    remove: low_frame\n    water: {table: 2.5}\n    loads: {temperature_rise: 15}\n",
        ),
    )
    study = compiled(text)
    blocks = [at_means(study, stage) for stage in STAGES]
    assert [block.water_table for block in blocks] == [2.0, 2.0, 2.0, 3.0, 3.0, 2.5, 2.5]
    assert [block.surcharge for block in blocks] == pytest.approx([10, 10, 10, 20, 20, 20, 20])
    assert [block.temperature_rise for block in blocks] == [0, 0, 0, 0, 0, 15, 15]


def test_a_number_that_a_stage_states_is_drawn_afresh_in_each_stage_that_it_lasts() -> None:
    text = changed(
        BOX,
        (
            "    dig_to: {mean: -5.0, sd: 0.1}\n",
            "    dig_to: -5.0\n    loads: {surcharge: {mean: 20, sd: 2}}\n",
        ),
    )
    study = compiled(text)
    address = "stages.dig_c.loads.surcharge"
    assert [c.stage for c in study.columns if c.address == address] == STAGES[3:]


def test_a_dry_cut_has_its_water_at_the_formation() -> None:
    study = compiled(BOX)
    values: dict[int, Any] = {index: np.full(3, mean) for index, mean in study.means.items()}
    levels = np.array([-5.3, -5.0, -4.6])
    values[_index(study, "stages.dig_c.dig_to")] = levels
    block = template(study, "dig_c").fill(values)
    assert block.formation is levels
    assert block.water_inside is levels
    assert [at_means(study, stage).water_inside for stage in STAGES] == [2.2, 2.2, -2, -5, -5, -5, -5]


def test_a_flooded_cut_keeps_its_level_and_never_falls_below_the_formation() -> None:
    text = changed(
        BOX,
        (
            "    dig_to: {mean: -5.0, sd: 0.1}\n",
            "    dig_to: {mean: -5.0, sd: 0.1}\n    water: {inside: -4.9}\n",
        ),
    )
    study = compiled(text)
    assert [at_means(study, stage).water_inside for stage in STAGES] == [2.2, 2.2, -2, -4.9, -4.9, -4.9, -4.9]
    values: dict[int, Any] = {index: np.full(3, mean) for index, mean in study.means.items()}
    values[_index(study, "stages.dig_c.dig_to")] = np.array([-5.3, -5.0, -4.6])
    assert template(study, "dig_c").fill(values).water_inside == pytest.approx([-4.9, -4.9, -4.6])


def test_ground_wall_and_slab_as_the_study_states_them() -> None:
    block = at_means(compiled(BOX), "service")
    fill, clay, gravel = block.strata
    assert (fill.undrained, clay.undrained, gravel.undrained) == (False, True, False)
    assert (fill.top, fill.unit_weight, fill.friction_angle, fill.cohesion) == (4.0, 18.0, 31.0, 0.0)
    assert (clay.top, clay.su_at_top, clay.su_per_metre, clay.friction_angle) == (2.5, 24.0, 1.8, None)
    assert block.aquifer is not None
    assert block.aquifer.stratum == "gravel"
    assert (block.width, block.length) == (14.0, 30.0)
    assert block.wall is not None
    assert (block.wall.toe, block.wall.thickness) == (-12.0, 0.8)
    assert block.slab is not None
    assert (block.slab.thickness, block.slab.unit_weight) == (1.2, 24.0)
    (prop,) = block.props
    assert (prop.area, prop.modulus, prop.restraint, prop.thermal_expansion) == (0.05, 210e6, 0.6, 1.2e-5)
    assert block.permanent


def test_edge_loads_stand_until_a_stage_states_others() -> None:
    crane = "  edge:\n    crane: {pressure: {mean: 60, sd: 5}, distance: 1.5, width: 4, length: 6}\n"
    text = changed(
        BOX,
        ("loads:\n", "loads:\n" + crane),
        ("    cast: slab\n", "    cast: slab\n    loads: {edge: {}}\n"),
        (
            "    remove: low_frame\n",
            "    remove: low_frame\n    loads: {edge: {lorry: {pressure: 20, distance: 2, width: 3}}}\n",
        ),
    )
    study = compiled(text)
    names = [[load.name for load in at_means(study, stage).edge_loads] for stage in STAGES]
    assert names == [["crane"]] * 4 + [[]] + [["lorry"]] * 2
    (load,) = at_means(study, "dig_a").edge_loads
    assert (load.pressure, load.distance, load.width, load.length) == (60.0, 1.5, 4.0, 6.0)


def test_choices_of_method_reach_the_block() -> None:
    text = changed(BOX, ("loads:\n", "models:\n  base_heave: {form: wide, depth: 3}\n\nloads:\n"))
    assert at_means(compiled(text), "dig_a").options == {"base_heave": {"form": "wide", "depth": 3.0}}


EVENT = """\
events:
  pump_loss:
    stages: [dig_b, dig_c]
    water: {drawdown: 0}
    rate: 0.5 per year
    basis: judgement
    source: standby sets

stages:
"""


def test_an_event_is_a_block_beside_the_works_as_planned_in_its_stages_only() -> None:
    study = compiled(changed(BOX, ("stages:\n", EVENT)))
    by_stage = [[t.scenario for t in study.templates if t.stage == stage] for stage in STAGES]
    assert by_stage == [
        ["as planned", "pump_loss"] if stage in ("dig_b", "dig_c") else ["as planned"] for stage in STAGES
    ]
    for stage, years in (("dig_b", 2 / 12), ("dig_c", 42 / 365.25)):
        planned, lost = (t for t in study.templates if t.stage == stage)
        assert lost.share == pytest.approx(1 - np.exp(-0.5 * years), rel=1e-3)
        assert planned.share + lost.share == pytest.approx(1.0)
        heads = [t.fill(study.means).aquifer for t in (planned, lost)]
        assert heads[0] is not None
        assert heads[1] is not None
        assert heads[1].head - heads[0].head == pytest.approx(3.0)
        assert set(lost.columns) < set(planned.columns)  # the same head, the same ground, no drawdown
    base = at_means(study, "base").aquifer
    assert base is not None
    assert base.head == pytest.approx(1.5 - 3.0)


def test_what_a_section_changes_has_its_own_address_and_value() -> None:
    text = changed(CUTS, ("      wall: {toe: -2.0}", "      wall: {toe: {mean: -2.0, sd: 0.1}}"))
    study = compiled(text)
    assert {c.address for c in study.columns if "toe" in c.address} == {"sections.portal.works.wall.toe"}
    walls = [at_means(study, "second", section).wall for section in ("west", "east", "portal")]
    assert [wall.toe for wall in walls if wall] == [0.0, 0.0, -2.0]
    assert [at_means(study, "second", s).formation for s in ("west", "east", "portal")] == [6.0, 6.0, 4.5]


def _flat(node: Any) -> list[Any]:
    if dataclasses.is_dataclass(node):
        return [leaf for f in dataclasses.fields(node) for leaf in _flat(getattr(node, f.name))]
    if isinstance(node, tuple):
        return [leaf for item in node for leaf in _flat(item)]
    if isinstance(node, dict):
        return [leaf for item in node.values() for leaf in _flat(item)]
    return [node]


BOX_STUDY = compiled(changed(BOX, ("      level: 3.0", "      level: {mean: 3.0, sd: 0.02}")))


@settings(deadline=None, max_examples=30)
@given(data=st.data(), stage=st.sampled_from(STAGES))
def test_a_block_of_rows_is_its_rows(data: st.DataObject, stage: str) -> None:
    """Scalars and arrays through the same template: each row of the block is the block of that row."""
    here = template(BOX_STUDY, stage)
    rows = [
        {
            c: data.draw(st.floats(-3, 3)) * BOX_STUDY.columns[c].quantity.sd + BOX_STUDY.columns[c].mean
            for c in here.columns
        }
        for _ in range(3)
    ]
    block = here.fill({c: np.array([row[c] for row in rows]) for c in here.columns})
    impossible = impossible_rows(
        block, {c: np.array([row[c] for row in rows]) for c in here.columns}, bounds(here, BOX_STUDY.columns)
    )
    assert isinstance(block, Block)
    assert np.shape(impossible) in ((), (3,))
    for index, row in enumerate(rows):
        for whole, single in zip(_flat(block), _flat(here.fill(row)), strict=True):
            value = whole[index] if isinstance(whole, np.ndarray) else whole
            assert value == single or value == pytest.approx(single, rel=1e-12)


def test_a_template_reads_its_columns_and_no_other() -> None:
    for each in BOX_STUDY.templates:
        assert list(each.columns) == sorted(set(each.columns))
        each.fill({index: BOX_STUDY.means[index] for index in each.columns})
        for index in each.columns:
            left = {c: BOX_STUDY.means[c] for c in each.columns if c != index}
            with pytest.raises(KeyError):
                each.fill(left)


@pytest.mark.parametrize(
    ("address", "stage", "values", "expected"),
    [
        ("ground.strata.clay.top", "dig_a", [4.1, 4.0, 3.9, 2.5, -15.1], [True, True, False, False, True]),
        ("ground.strata.gravel.top", "dig_a", [2.6, 2.4, -15.0], [True, False, False]),
        ("stages.dig_c.dig_to", "dig_c", [4.1, -0.9, -5.0, -11.9, -12.0], [True, True, False, False, True]),
        ("works.props.top_frame.level", "frame_a", [2.1, 2.2, 2.3], [True, True, False]),
        ("loads.surcharge", "dig_a", [-0.1, 0.0, 5.0], [True, False, False]),
        ("ground.strata.clay.unit_weight", "dig_a", [-1.0, 0.0, 17.0], [True, True, False]),
    ],
)
def test_rows_that_cannot_be_are_flagged(
    address: str, stage: str, values: list[float], expected: list[bool]
) -> None:
    here = template(BOX_STUDY, stage)
    columns: dict[int, Any] = {c: np.full(len(values), BOX_STUDY.means[c]) for c in here.columns}
    column = next(c for c in here.columns if BOX_STUDY.columns[c].address == address)
    columns[column] = np.array(values)
    impossible = impossible_rows(here.fill(columns), columns, bounds(here, BOX_STUDY.columns))
    assert np.asarray(impossible).tolist() == expected


def test_no_row_of_a_certain_study_is_flagged() -> None:
    for each in BOX_STUDY.templates:
        block = each.fill(BOX_STUDY.means)
        assert impossible_rows(block, BOX_STUDY.means, bounds(each, BOX_STUDY.columns)) is False


def test_only_a_distribution_that_reaches_there_can_fall_below_its_bound() -> None:
    bound = {c.address: c.bound for c in BOX_STUDY.columns}
    assert bound["ground.strata.clay.su.at_top"] is None  # lognormal
    assert bound["ground.strata.gravel.top"] is None  # a level
    assert bound["ground.strata.clay.unit_weight"] == (np.less_equal, 0.0)  # above 0
    assert bound["loads.surcharge"] == (np.less, 0.0)  # from 0
