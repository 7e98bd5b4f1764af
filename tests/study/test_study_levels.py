"""Levels of the works against one another: what is accepted can be built, and what can be built is accepted."""

from __future__ import annotations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from study_texts import BOX, CUTS, at_means, changed, compiled, faults

TEXT = """\
title: A dig in steps
targets: {{temporary: {{beta: 3.0, period: stage}}}}
ground: {{strata: {{clay: {{top: 10, unit_weight: 18, su: 40}}}}}}
water: {{table: 8}}
works:
  cut: {{width: 10, length: 20}}
  wall: {{toe: {toe}, thickness: 0.6}}
  props:
    upper: {{level: {upper}, spacing: 4, made: steel, resistance: 2000}}
    lower: {{level: {lower}, spacing: 4, made: steel, resistance: 2000}}
stages:
  one: {{dig_to: {one}, overdig: {over_one}, install: upper}}
  two: {{dig_to: {two}, overdig: {over_two}, install: lower}}
"""

HALVES = st.integers(-2, 26).map(lambda halves: halves / 2)
OVERDIGS = st.sampled_from([0.0, 0.0, 0.5, 1.5])


@settings(deadline=None, max_examples=150)
@given(toe=HALVES, upper=HALVES, lower=HALVES, one=HALVES, two=HALVES, over_one=OVERDIGS, over_two=OVERDIGS)
@example(toe=2.0, upper=9.0, lower=5.0, one=8.0, two=4.0, over_one=0.0, over_two=0.0)
@example(toe=2.0, upper=9.0, lower=5.0, one=8.0, two=4.0, over_one=0.0, over_two=1.5)
@example(toe=2.0, upper=9.0, lower=5.0, one=8.0, two=3.0, over_one=0.0, over_two=1.5)
@example(toe=6.0, upper=9.0, lower=6.5, one=7.0, two=6.0, over_one=1.5, over_two=0.0)
@example(toe=2.0, upper=12.0, lower=12.5, one=8.0, two=4.0, over_one=0.5, over_two=0.5)
def test_a_study_is_accepted_just_where_its_levels_are_in_order(
    toe: float, upper: float, lower: float, one: float, two: float, over_one: float, over_two: float
) -> None:
    text = TEXT.format(
        toe=toe, upper=upper, lower=lower, one=one, two=two, over_one=over_one, over_two=over_two
    )
    deepest = min(one - over_one, two - over_two)
    wrong = {
        "stages.one.dig_to": one >= 10,
        "stages.two.dig_to": two >= one,
        "stages.one.install": upper <= one or upper > 12,
        "stages.two.install": lower <= two or lower > 12,
        "works.wall.toe": toe >= deepest,
    }
    should = {path for path, is_wrong in wrong.items() if is_wrong}
    told = {fault[1] for fault in faults(text)}
    assert told <= should
    assert bool(told) == bool(should)
    if len(should) == 1:
        assert told == should
    if not should:
        study = compiled(text)
        for stage, formation in (("one", one - over_one), ("two", two - over_two)):
            block = at_means(study, stage)
            assert block.formation == formation
            assert block.wall is not None
            assert block.surface > block.formation > block.wall.toe
            assert all(prop.level > block.formation for prop in block.props)


def test_an_overdig_that_is_uncertain_counts_by_its_mean() -> None:
    for toe, told in ((4.9, []), (5.1, ["works.wall.toe"])):
        text = TEXT.format(
            toe=toe,
            upper=9,
            lower=7,
            one=8,
            two=6,
            over_one="{mean: 0.5, sd: 0.05}",
            over_two="{low: 0, high: 2}",
        )
        assert [fault[1] for fault in faults(text)] == told


def test_an_overdig_that_is_at_fault_is_told_alone() -> None:
    text = TEXT.format(toe=2, upper=9, lower=7, one=8, two=6, over_one="a bit", over_two=9)
    assert [fault[1] for fault in faults(text)] == ["works.wall.toe", "stages.one.overdig"]


EVENT = """\
events:
  pump_loss:
    stages: [dig_b, dig_c]
    water: {inside: LEVEL}
    rate: 0.5 per year
    basis: judgement
    source: standby sets

stages:
"""


@pytest.mark.parametrize(
    ("level", "given"),
    [
        ("-1.5", []),
        ("-2.0", []),
        ("{mean: -1.0, sd: 0.3}", []),
        ("-2.5", ["-2.5, below the dig (-2)"]),
        ("-6", ["-6, below the dig (-2)"]),
    ],
)
def test_water_that_an_event_lets_in_stands_in_the_cut(level: str, given: list[str]) -> None:
    """A level below the dig would be raised to it unseen: the event would be none."""
    text = changed(BOX, ("stages:\n", EVENT.replace("LEVEL", level)))
    told = faults(text)
    assert [fault[1:3] for fault in told] == [("events.pump_loss.water.inside", words) for words in given]
    assert [text.splitlines()[fault[0] - 1].strip() for fault in told] == [
        f"water: {{inside: {level}}}"
    ] * len(told)
    if not told:
        study = compiled(text)
        flooded = [t.fill(study.means) for t in study.templates if t.scenario == "pump_loss"]
        above = [(block.stage, bool(block.water_inside > block.formation)) for block in flooded]
        assert above == [("dig_b", level != "-2.0"), ("dig_c", True)]


@pytest.mark.parametrize(
    ("probabilities", "told"),
    [((0.5, 0.49), []), ((0.5, 0.5), ["stages.second"]), ((0.9, 0.9), ["stages.second"])],
)
def test_events_of_one_stage_leave_something_to_the_works_as_planned(
    probabilities: tuple[float, float], told: list[str]
) -> None:
    events = "".join(
        f"  {name}:\n    stages: [{stages}]\n    water: {{table: 11}}\n    probability: {probability}\n"
        "    basis: judgement\n    source: standby\n"
        for name, stages, probability in zip(
            ("pump_loss", "flood"), ("first, second", "second"), probabilities, strict=True
        )
    )
    text = changed(CUTS, ("stages:\n  first", f"events:\n{events}\nstages:\n  first"))
    assert [fault[1] for fault in faults(text)] == told
    if not told:
        shares = {(t.stage, t.scenario): t.share for t in compiled(text).templates if t.section == "west"}
        assert shares == {
            ("first", "as planned"): pytest.approx(0.5),
            ("first", "pump_loss"): 0.5,
            ("second", "as planned"): pytest.approx(0.01),
            ("second", "pump_loss"): 0.5,
            ("second", "flood"): 0.49,
        }
