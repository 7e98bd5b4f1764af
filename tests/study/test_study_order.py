"""The order of work within a stage (dig, install, cast, remove), and draws over stages and sections."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from study_texts import BOX, CUTS, at_means, changed, compiled, faults, keys, template

STAGES = ["dig_a", "frame_a", "dig_b", "dig_c", "base", "strip", "service"]
HEAD = "    head: {dist: gumbel, mean: 1.5, sd: 0.2, period: 1 year, shared: {sd: 0.05}}"

PROPS = ["p", "q", "r"]


def _study(steps: list[dict[str, list[str]]]) -> str:
    """Return a study of a cut that goes a metre deeper at each dig, with three props above all digs."""
    lines = [
        "title: A dig in steps",
        "targets: {temporary: {beta: 3.0, period: stage}}",
        "ground: {strata: {clay: {top: 10, unit_weight: 18, su: 40}}}",
        "water: {table: 8}",
        "works:",
        "  cut: {width: 10, length: 20}",
        "  props:",
        *(
            f"    {prop}: {{level: {9.5 + index / 10}, spacing: 4, made: steel, resistance: 2000}}"
            for index, prop in enumerate(PROPS)
        ),
        "stages:",
    ]
    level = 9
    for number, step in enumerate(steps):
        lines.append(f"  s{number}:")
        if "dig" in step:
            lines.append(f"    dig_to: {level}")
            level -= 1
        lines += [
            f"    {word}: [{', '.join(step[word])}]" for word in ("install", "remove") if step.get(word)
        ]
        lines.append("    note: a step")
    return "\n".join(lines) + "\n"


@settings(deadline=None, max_examples=60)
@given(data=st.data(), count=st.integers(1, 5))
def test_props_stand_and_are_loaded_as_if_each_step_were_done_by_hand(
    data: st.DataObject, count: int
) -> None:
    """A stage digs, installs, casts, removes: gone through here one prop at a time."""
    steps: list[dict[str, list[str]]] = []
    expected: list[dict[str, bool]] = []
    absent, loaded = list(PROPS), dict[str, bool]()
    for number in range(count):
        step: dict[str, list[str]] = {}
        if number == 0 or data.draw(st.booleans()):
            step["dig"] = []
            loaded = dict.fromkeys(loaded, True)
        last = number == count - 1
        step["install"] = (
            list(absent)
            if last
            else data.draw(st.lists(st.sampled_from(absent), unique=True))
            if absent
            else []
        )
        for prop in step["install"]:
            absent.remove(prop)
            loaded[prop] = False
        step["remove"] = data.draw(st.lists(st.sampled_from(sorted(loaded)), unique=True)) if loaded else []
        for prop in step["remove"]:
            del loaded[prop]
            loaded = dict.fromkeys(loaded, True)
        steps.append(step)
        expected.append(dict(loaded))
    study = compiled(_study(steps))
    got = [{prop.name: prop.loaded for prop in at_means(study, f"s{n}").props} for n in range(count)]
    assert got == expected


def test_a_dig_that_comes_with_the_prop_has_not_loaded_it_and_the_next_one_has() -> None:
    study = compiled(_study([{"dig": [], "install": ["p"]}, {"install": ["q", "r"]}, {"dig": []}]))
    loaded = [[prop.loaded for prop in at_means(study, f"s{n}").props] for n in range(3)]
    assert loaded == [[False], [False] * 3, [True] * 3]


def test_a_prop_changed_for_another_in_one_stage_leaves_its_load_to_it() -> None:
    study = compiled(_study([{"dig": [], "install": ["p"]}, {"install": ["q", "r"], "remove": ["p"]}]))
    assert [(prop.name, prop.loaded) for prop in at_means(study, "s1").props] == [("r", True), ("q", True)]


def test_a_slab_is_cast_after_the_dig_of_its_stage_and_after_it_no_dig_is_taken() -> None:
    slab, dig = "    cast: slab\n", "    dig_to: {mean: -5.0, sd: 0.1}\n"
    text = changed(BOX, (slab, ""), (dig, f"    dig_to: -5.0\n{slab}"))
    block = at_means(compiled(text), "dig_c")
    assert (block.formation, block.slab is not None) == (-5.0, True)
    early = changed(BOX, (slab, ""), ("    dig_to: -2.0\n", f"    dig_to: -2.0\n{slab}"))
    assert [fault[1:3] for fault in faults(early)] == [("stages.dig_c.dig_to", "-5 after the slab was cast")]


def test_every_level_of_a_stage_lasts_until_another_is_stated() -> None:
    later = "    water: {under_slab: 0.4}\n    loads: {temperature_rise: 0}\n"
    text = changed(
        BOX,
        ("    dig_to: -2.0\n", "    dig_to: -2.0\n    loads: {temperature_rise: 8}\n"),
        ("    cast: slab\n", "    cast: slab\n    water: {under_slab: 1.2, drawdown: 1}\n"),
        ("    remove: low_frame\n", f"    remove: low_frame\n{later}"),
        (HEAD, "    head: 1.5"),
    )
    blocks = [at_means(compiled(text), stage) for stage in STAGES]
    assert [block.water_under_slab for block in blocks] == [None] * 4 + [1.2, 0.4, 0.4]
    assert [block.temperature_rise for block in blocks] == [0, 0, 8, 8, 8, 0, 0]
    heads = [block.aquifer.head for block in blocks if block.aquifer]
    assert heads == pytest.approx([1.5, 1.5, -1.5, -1.5, 0.5, 0.5, 1.5])


def test_each_drawdown_is_a_draw_of_its_own_and_takes_the_place_of_the_one_before() -> None:
    text = changed(BOX, ("    cast: slab\n", "    cast: slab\n    water: {drawdown: {mean: 1.0, sd: 0.1}}\n"))
    study = compiled(text)
    for stage, read in zip(STAGES, ["", "", "dig_b", "dig_b", "base", "base", ""], strict=True):
        addresses = {study.columns[index].address for index in template(study, stage).columns}
        wanted = {f"stages.{read}.water.drawdown"} if read else set()
        assert {address for address in addresses if "drawdown" in address} == wanted
    (column,) = (i for i, c in enumerate(study.columns) if c.address == "stages.base.water.drawdown")
    deeper = template(study, "strip").fill({**study.means, column: 1.25}).aquifer
    plain = at_means(study, "strip").aquifer
    assert deeper is not None
    assert plain is not None
    assert deeper.head == pytest.approx(plain.head - 0.25)


def test_sections_share_the_water_of_a_stage_and_the_part_that_its_stages_share() -> None:
    """One river: the level of a stage is one draw for all sections, the error of its record one for all."""
    text = changed(CUTS, ("  table: 10.0", "  table: {mean: 10.0, sd: 0.3, shared: {sd: 0.1}}"))
    study = compiled(text)
    assert keys(study, "water.table") == [("", "first"), ("", "second")]
    assert keys(study, "water.table.shared") == [("", "")]
    for stage in ("first", "second"):
        read = [
            {i for i in template(study, stage, s).columns if study.columns[i].address.startswith("water.")}
            for s in ("west", "east", "portal")
        ]
        assert len(read[0]) == 2
        assert read[0] == read[1] == read[2]


def test_a_section_with_water_of_its_own_reads_the_same_drivers() -> None:
    river = "    water: {table: {mean: 9.0, sd: 0.2, shared: {sd: 0.2}}}"
    text = changed(
        CUTS,
        ("  table: 10.0", "  table: {mean: 10.0, sd: 0.3, shared: {sd: 0.1}}"),
        ("      wall: {toe: -2.0}", f"      wall: {{toe: -2.0}}\n{river}"),
    )
    study = compiled(text)
    own = "sections.portal.water.table"
    assert keys(study, own) == [("", "first"), ("", "second")]
    assert keys(study, f"{own}.shared") == [("", "")]
    drivers = {(c.address.removeprefix("sections.portal."), c.stage): set[int]() for c in study.columns}
    for column in study.columns:
        drivers[column.address.removeprefix("sections.portal."), column.stage].add(column.driver)
    for key in (("water.table", "first"), ("water.table", "second"), ("water.table.shared", "")):
        assert len(drivers[key]) == 1, key
    assert study.drivers == len({column.driver for column in study.columns})


def test_a_load_that_varies_per_section_is_one_draw_a_section_in_all_its_stages() -> None:
    text = changed(
        CUTS, ("\nworks:\n", "\nloads: {surcharge: {low: 5, high: 15, varies: per_section}}\n\nworks:\n")
    )
    study = compiled(text)
    assert keys(study, "loads.surcharge") == [("west", ""), ("east", ""), ("portal", "")]
    assert len({c.driver for c in study.columns if c.address == "loads.surcharge"}) == 1
    for section in ("west", "east", "portal"):
        for stage in ("first", "second"):
            read = {study.columns[i] for i in template(study, stage, section).columns}
            assert [c.section for c in read if c.address == "loads.surcharge"] == [section]


@pytest.mark.parametrize(
    ("lasts", "periods"),
    [("11 months", 1.0), ("1 year", 1.0), ("13 months", 13 / 12), ("7 years", 7.0)],
)
@pytest.mark.parametrize("sd", [0.2, 0.7])
def test_a_maximum_moves_by_the_scale_times_the_logarithm_of_its_periods(
    lasts: str, periods: float, sd: float
) -> None:
    """Gumbel: the n-th power of exp(-exp(-(x - u)/s)) is the same law with u + s ln n; s = sd sqrt(6)/pi."""
    text = changed(
        BOX,
        (HEAD, f"    head: {{dist: gumbel, mean: 1.5, sd: {sd}, period: 1 year}}"),
        ("    lasts: 50 years", f"    lasts: {lasts}"),
    )
    study = compiled(text)
    column = next(c for c in study.columns if (c.address, c.stage) == ("water.aquifer.head", "service"))
    assert column.periods == pytest.approx(periods, rel=1e-12)
    assert column.mean - 1.5 == pytest.approx(sd * math.sqrt(6) / math.pi * math.log(periods), abs=1e-12)
    scale = sd * math.sqrt(6) / math.pi
    x = np.linspace(0.5, 5, 7)
    one = np.exp(-np.exp(-(x - 1.5 + np.euler_gamma * scale) / scale))
    moved = np.exp(-np.exp(-(x - column.mean + np.euler_gamma * scale) / scale))
    assert moved == pytest.approx(one**periods, rel=1e-9)


def test_without_a_period_a_long_stage_moves_nothing() -> None:
    column = next(c for c in compiled(BOX).columns if (c.address, c.stage) == ("loads.surcharge", "service"))
    assert (column.periods, column.mean) == (1.0, 10.0)
