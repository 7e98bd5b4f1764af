"""Events as scenarios: whole studies whose failure probability is known exactly, and what is refused."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm
from small_studies import PLUG

from riskcut.analysis.scenarios import over_stages
from riskcut.results.status import Status
from riskcut.study.errors import StudyError

WELLS = (
    "dig_1: {dig_to: -10}",
    "dig_1: {dig_to: -10, lasts: 1 month, water: {drawdown: 1.2}}",
)
HIGH = ("{mean: -2, sd: 0.5}", "{mean: -1.2, sd: 0.5}")
EVENT = (
    "\ntitle:",
    "\nevents: {wells_lost: {stages: [dig_1], water: {drawdown: 0}, probability: 0.02, basis: judgement, source: ours}}"
    "\ntitle:",
)
AT = {"section": "whole_cut", "stage": "dig_1", "limit_state": "plug_uplift/plug"}


def pf(mean: float, formation: float = -10.0) -> float:
    head = 18.0 * (formation + 20.0) / 9.81 - 20.0
    return float(norm.sf(head, mean, 0.5))


def test_the_probability_is_the_sum_over_the_scenarios(run):
    tree = run(PLUG, WELLS, HIGH, EVENT)
    exact = 0.98 * pf(-2.4) + 0.02 * pf(-1.2)
    group = tree["reliability"].dataset
    p, rows = float(group["failure_probability"].sel(AT)), int(group["rows"])
    error = math.sqrt(pf(-2.4) / rows) + 0.02 * math.sqrt(0.25 / rows)
    assert abs(p - exact) < 4 * error
    low, high = group["failure_probability_bounds"].sel(AT).values
    assert low < exact < high
    system = group["stage_failure_probability"].sel(section="whole_cut", stage="dig_1").item()
    assert system == pytest.approx(p, rel=1e-12)


def test_each_scenario_is_told_apart(run):
    scenarios = run(PLUG, WELLS, HIGH, EVENT)["scenarios"].dataset
    given_event = scenarios["scenario_failure_probability"].sel({**AT, "scenario": "wells_lost"}).item()
    assert given_event == pytest.approx(pf(-1.2), abs=0.01)
    shares = scenarios["scenario_probability"].sel(section="whole_cut", stage="dig_1")
    assert shares.values == pytest.approx([0.98, 0.02])
    assert list(shares["scenario"].values) == ["as planned", "wells_lost"]


def test_a_rate_and_the_length_of_the_stage_make_the_probability(run):
    rate = EVENT[1].replace("probability: 0.02", "rate: 0.6 per year")
    tree = run(PLUG, WELLS, HIGH, (EVENT[0], rate))
    share = tree["scenarios"]["scenario_probability"].sel(
        section="whole_cut", stage="dig_1", scenario="wells_lost"
    )
    assert float(share) == pytest.approx(1 - math.exp(-0.6 / 12), rel=1e-6)


def test_over_two_stages_heads_and_events_are_independent(run):
    two = "dig_1: {dig_to: -9.6, lasts: 1 month, water: {drawdown: 1.2}}\n  dig_2: {dig_to: -10, lasts: 1 month}"
    both = EVENT[1].replace("[dig_1]", "[dig_1, dig_2]")
    tree = run(PLUG, ("dig_1: {dig_to: -10}", two), HIGH, (EVENT[0], both))
    stages = [0.98 * pf(-2.4, level) + 0.02 * pf(-1.2, level) for level in (-9.6, -10.0)]
    exact = 1 - (1 - stages[0]) * (1 - stages[1])
    group = tree["reliability"].dataset
    p, rows = float(group["section_failure_probability"].item()), int(group["rows"])
    both_happen = 0.02**2  # taken to add what each adds
    error = 4 * (math.sqrt(exact / rows) + 0.02 * math.sqrt(0.25 / rows))
    assert -error < p - exact < both_happen + error
    low, high = group["section_failure_probability_bounds"].values[0]
    assert low - both_happen < exact < high
    assert group["overall_failure_probability"].values == pytest.approx([p, p], rel=1e-12)


def test_an_event_that_fails_for_certain_counts_with_its_probability(run):
    # Nothing uncertain enters: 2 m below -1 m the plug holds for certain, at -1 m it does not.
    wells = ("dig_1: {dig_to: -10}", "dig_1: {dig_to: -10, lasts: 1 month, water: {drawdown: 2}}")
    tree = run(PLUG, wells, ("{mean: -2, sd: 0.5}", "-1.0"), EVENT)
    group = tree["reliability"].dataset
    assert float(group["failure_probability"].sel(AT)) == pytest.approx(0.02, rel=1e-12)
    assert int(group["status"].sel(AT)) == Status.COMPUTED
    scenario = tree["scenarios"]["scenario_status"].sel(AT)
    assert scenario.values.tolist() == [Status.CANNOT_FAIL, Status.UPPER_BOUND_ONLY]


@settings(deadline=None, max_examples=100)
@given(
    st.dictionaries(
        st.sampled_from("abcd"), st.dictionaries(st.sampled_from("xyz"), st.floats(0, 0.3), max_size=3)
    )
)
def test_the_scenarios_of_a_section_share_out_all_of_one(events):
    none, one = over_stages(events)
    assert 0 <= none <= 1
    assert all(weight >= 0 for weight in one.values())
    assert none + sum(one.values()) == pytest.approx(1.0, abs=1e-12)


@settings(deadline=None, max_examples=60)
@given(
    planned=st.floats(0, 0.2),
    adding=st.lists(st.tuples(st.floats(0, 0.2), st.floats(0, 0.3)), min_size=1, max_size=3),
)
def test_two_events_add_what_each_adds(planned, adding):
    """Independent events whose added failures exclude one another: the sum is exact, by enumeration."""
    chances = {f"stage_{i}": {"lost": p} for i, (p, _) in enumerate(adding)}
    none, one = over_stages(chances)
    added = [more for _, more in adding]
    got = none * planned + sum(
        weight * (planned + more) for weight, more in zip(one.values(), added, strict=True)
    )
    exact = 0.0
    for happens in itertools.product((False, True), repeat=len(adding)):
        chance = math.prod(p if yes else 1 - p for yes, (p, _) in zip(happens, adding, strict=True))
        exact += chance * (planned + sum(more for yes, more in zip(happens, added, strict=True) if yes))
    assert got == pytest.approx(exact, abs=1e-12)


@pytest.mark.parametrize(
    ("event", "path", "given", "wanted"),
    [
        ("stages: [dig_9], water: {drawdown: 0}, probability: 0.1", "stages", "'dig_9'", "dig_1"),
        ("stages: [dig_1], water: {drawdown: 0}", "", "neither rate nor probability", "one of the two"),
        (
            "stages: [dig_1], water: {drawdown: 0}, rate: 0.1 per year, probability: 0.1",
            "",
            "both",
            "one of the two",
        ),
        (
            "stages: [dig_1], water: {drawdown: 0}, rate: 0.1 per year",
            "stages",
            "length is not stated",
            "lasts",
        ),
        ("stages: [dig_1], water: {drawdown: 0}, rate: 0.1", "rate", "0.1", "per year"),
        ("stages: [dig_1], water: {drawdown: 0}, probability: 1.2", "probability", "1.2", "below 1"),
        ("stages: [dig_1], water: {}, probability: 0.1", "water", "nothing", "drawdown: 0"),
    ],
)
def test_an_event_that_makes_no_sense_is_refused(study, event, path, given, wanted):
    stated = f"\nevents: {{wells_lost: {{{event}, basis: judgement, source: ours}}}}\ntitle:"
    with pytest.raises(StudyError) as error:
        study(PLUG, ("\ntitle:", stated))
    (fault,) = error.value.faults
    assert fault.path == ".".join(part for part in ("events.wells_lost", path) if part)
    assert given in fault.given
    assert wanted in fault.wanted


def test_the_loss_of_wells_is_told_as_not_covered_only_where_no_event_is_stated(run):
    bare, stated = run(PLUG, WELLS, HIGH), run(PLUG, WELLS, HIGH, EVENT)
    assert "the study states no event" in bare.attrs["not_covered"]
    assert "loss of a pump" not in stated.attrs["not_covered"]
