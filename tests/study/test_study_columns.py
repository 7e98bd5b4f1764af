"""Which random variable stands behind which number: address, section, stage, driver."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats
from study_texts import BOX, CUTS, at_means, changed, compiled, keys, template

from riskcut.study.columns import Reading
from riskcut.study.quantity import Quantity

STAGES = ["dig_a", "frame_a", "dig_b", "dig_c", "base", "strip", "service"]
HEAD = "    head: {dist: gumbel, mean: 1.5, sd: 0.2, period: 1 year, shared: {sd: 0.05}}"


def test_a_certain_number_is_no_column() -> None:
    addresses = {column.address for column in compiled(BOX).columns}
    assert "works.wall.toe" not in addresses
    assert "water.table" not in addresses
    assert "stages.dig_b.dig_to" not in addresses


def test_a_constant_number_is_one_column() -> None:
    study = compiled(BOX)
    assert keys(study, "stages.dig_c.dig_to") == [("", "")]
    assert keys(study, "works.props.top_frame.resistance") == [("", "")]
    readers = {t.stage for t in study.templates if _column(study, "stages.dig_c.dig_to") in t.columns}
    # Every stage from the dig on, and the stages with piles, whose head is that level.
    assert readers == {"dig_b", "dig_c", "base", "strip", "service"}


def _column(study: object, address: str) -> int:
    return next(i for i, column in enumerate(study.columns) if column.address == address)  # type: ignore[attr-defined]


def test_a_variable_action_is_one_column_a_stage() -> None:
    study = compiled(BOX)
    assert keys(study, "water.aquifer.head") == [("", stage) for stage in STAGES]
    assert keys(study, "loads.surcharge") == [("", stage) for stage in STAGES]
    drivers = [column.driver for column in study.columns if column.address == "water.aquifer.head"]
    assert len(set(drivers)) == len(STAGES)
    for stage in STAGES:
        read = [study.columns[index] for index in template(study, stage).columns]
        assert [column.stage for column in read if column.address == "water.aquifer.head"] == [stage]


def test_stages_of_one_season_share_their_draws() -> None:
    text = changed(
        BOX,
        ("    dig_to: 2.2\n", "    dig_to: 2.2\n    season: winter\n"),
        ("    install: top_frame\n", "    install: top_frame\n    season: winter\n"),
    )
    study = compiled(text)
    assert keys(study, "loads.surcharge") == [("", stage) for stage in ["winter", *STAGES[2:]]]
    assert template(study, "dig_a").columns != template(study, "dig_b").columns
    shared = set(template(study, "dig_a").columns) & set(template(study, "frame_a").columns)
    assert {"loads.surcharge", "water.aquifer.head"} <= {study.columns[index].address for index in shared}


def test_a_number_may_vary_otherwise_than_its_kind() -> None:
    text = changed(
        BOX,
        ("  surcharge: {dist: gumbel, mean: 10, sd: 2}", "  surcharge: {mean: 10, sd: 2, varies: constant}"),
        ("top: {mean: 2.5, sd: 0.1}", "top: {mean: 2.5, sd: 0.1, varies: constant}"),
    )
    study = compiled(text)
    assert keys(study, "loads.surcharge") == [("", "")]
    assert keys(study, "ground.strata.clay.top") == [("", "")]
    assert keys(study, "ground.strata.gravel.top") == [("whole_cut", "")]


def test_ground_is_one_column_a_section_with_one_driver_for_all() -> None:
    study = compiled(CUTS)
    clay = [column for column in study.columns if column.address.endswith("clay.su")]
    assert [(column.address, column.section) for column in clay] == [
        ("ground.strata.clay.su", "west"),
        ("sections.east.ground.strata.clay.su", "east"),
        ("ground.strata.clay.su", "portal"),
    ]
    assert len({column.driver for column in clay}) == 1
    assert [column.quantity.value for column in clay] == [55, 40, 55]
    assert study.drivers == len({column.driver for column in study.columns}) == 2


def test_a_constant_number_of_all_sections_is_one_column() -> None:
    study = compiled(CUTS)
    assert keys(study, "works.props.strut.resistance") == [("", "")]


def test_a_section_whose_stage_lasts_longer_draws_another_maximum_with_the_same_driver() -> None:
    text = changed(
        CUTS,
        ("  table: 10.0", "  table: {dist: gumbel, mean: 10.0, sd: 0.2, period: 1 year}"),
        ("    install: strut\n", "    install: strut\n    lasts: 6 months\n"),
        ("    dig_to: 6.0\n", "    dig_to: 6.0\n    lasts: 2 years\n"),
        ("      second: {dig_to: 4.5}", "      second: {dig_to: 4.5, lasts: 8 years}"),
    )
    study = compiled(text)
    table = [column for column in study.columns if column.address == "water.table"]
    assert [(c.section, c.stage, c.periods) for c in table] == [
        ("", "first", 1.0),
        ("", "second", pytest.approx(2.0)),
        ("portal", "second", pytest.approx(8.0)),
    ]
    assert table[1].driver == table[2].driver != table[0].driver


def test_the_part_that_stages_share_is_a_column_apart() -> None:
    study = compiled(BOX)
    assert keys(study, "water.aquifer.head.shared") == [("", "")]
    part = next(column for column in study.columns if column.address == "water.aquifer.head.shared")
    assert part.quantity.parameters == {"mean": 0.0, "sd": 0.05}
    values: dict[int, float] = {i: float(c.mean) for i, c in enumerate(study.columns)}
    values[study.columns.index(part)] = 0.25
    for stage in ("dig_a", "service"):
        there = template(study, stage).fill(values).aquifer
        means = at_means(study, stage).aquifer
        assert there is not None
        assert means is not None
        assert there.head == pytest.approx(means.head + 0.25)


def test_drawdown_is_taken_off_the_head_from_its_stage_on() -> None:
    study = compiled(changed(BOX, (HEAD, "    head: 1.5")))
    heads = [at_means(study, stage).aquifer for stage in STAGES]
    assert [aquifer.head for aquifer in heads if aquifer] == pytest.approx(
        [1.5, 1.5, -1.5, -1.5, -1.5, -1.5, 1.5]
    )


def test_a_drawdown_is_the_same_wells_doing_in_every_stage_and_a_level_of_a_stage_is_not() -> None:
    levels = "    water: {drawdown: {mean: 3.0, sd: 0.3}, table: {mean: 3, sd: 0.2}, under_slab: {mean: 1, sd: 0.2}}"
    study = compiled(changed(BOX, ("    water: {drawdown: {mean: 3.0, sd: 0.3}}", levels)))
    assert keys(study, "stages.dig_b.water.drawdown") == [("", "")]
    for name in ("table", "under_slab"):
        assert keys(study, f"stages.dig_b.water.{name}") == [("", stage) for stage in STAGES[2:]]
    own = levels.replace("sd: 0.3}", "sd: 0.3, varies: per_stage}")
    study = compiled(changed(BOX, ("    water: {drawdown: {mean: 3.0, sd: 0.3}}", own)))
    assert keys(study, "stages.dig_b.water.drawdown") == [("", stage) for stage in STAGES[2:6]]


def test_a_level_that_a_stage_states_is_carried_to_the_length_of_that_stage() -> None:
    table = "    water: {drawdown: 0, table: {dist: gumbel, mean: 2.5, sd: 0.2, period: 1 year}}"
    study = compiled(changed(BOX, ("    water: {drawdown: 0}", table)))
    (column,) = (c for c in study.columns if c.address == "stages.service.water.table")
    assert (column.stage, column.periods) == ("service", pytest.approx(50.0))


@pytest.mark.parametrize("periods", [2.0, 7.0, 50.0])
def test_a_gumbel_maximum_of_several_periods(periods: float) -> None:
    """The maximum over n independent periods, by the integral of the n-th power of its distribution."""
    text = changed(
        BOX,
        (HEAD, HEAD.replace("shared: {sd: 0.05}", "source: a")),
        ("    lasts: 50 years", f"    lasts: {periods} years"),
    )
    study = compiled(text)
    service = next(c for c in study.columns if (c.address, c.stage) == ("water.aquifer.head", "service"))
    assert service.periods == pytest.approx(periods)
    scale = 0.2 * math.sqrt(6) / math.pi
    year = stats.gumbel_r(1.5 - np.euler_gamma * scale, scale)
    low, high = 0.5, 6.0
    mean = high - integrate.quad(lambda x: year.cdf(x) ** periods, low, high)[0]
    assert service.mean == pytest.approx(mean, abs=1e-6)
    assert service.quantity.sd == 0.2


def test_a_stage_shorter_than_the_period_has_the_maximum_of_one() -> None:
    study = compiled(BOX)
    month = next(c for c in study.columns if (c.address, c.stage) == ("water.aquifer.head", "dig_a"))
    assert (month.periods, month.mean) == (1.0, 1.5)


def test_a_season_lasts_as_long_as_its_stages_together() -> None:
    text = changed(
        BOX,
        ("    dig_to: 2.2\n    lasts: 1 month", "    dig_to: 2.2\n    season: long\n    lasts: 2 years"),
        (
            "    install: top_frame\n    lasts: 2 weeks",
            "    install: top_frame\n    season: long\n    lasts: 3 years",
        ),
    )
    column = next(c for c in compiled(text).columns if (c.address, c.stage) == ("water.aquifer.head", "long"))
    assert column.periods == pytest.approx(5.0)


def test_model_factors_are_the_mechanisms_own_unless_the_study_states_one() -> None:
    own = Quantity(kind="lognormal", value=1.0, sd=0.15, unit="1", above=0.0)
    factors = {"base_heave/failure": own, "plug_uplift/uplift": own}
    stated = "model_factors:\n  base_heave:\n    failure: {dist: lognormal, mean: 1.1, sd: 0.1}\n\nloads:\n"
    study = compiled(changed(BOX, ("loads:\n  surcharge", stated + "  surcharge")), factors)
    (heave,) = [c for c in study.columns if c.address == "model_factors.base_heave.failure"]
    (uplift,) = [c for c in study.columns if c.address == "model_factors.plug_uplift.uplift"]
    assert (heave.quantity.value, uplift.quantity) == (1.1, own)
    assert at_means(study, "dig_b").model_factors == {"base_heave/failure": 1.1, "plug_uplift/uplift": 1.0}
    assert study.file.states(heave.address)
    assert not study.file.states(uplift.address)


def test_a_certain_model_factor_of_the_study_is_no_column() -> None:
    own = Quantity(kind="lognormal", value=1.0, sd=0.15, unit="1", above=0.0)
    stated = "model_factors: {base_heave: {failure: 1.2}}\n\nloads:\n"
    study = compiled(
        changed(BOX, ("loads:\n  surcharge", stated + "  surcharge")), {"base_heave/failure": own}
    )
    assert keys(study, "model_factors.base_heave.failure") == []
    assert at_means(study, "dig_b").model_factors["base_heave/failure"] == 1.2


READINGS = st.builds(
    Reading,
    st.floats(-50, 50),
    st.lists(st.tuples(st.integers(0, 3), st.sampled_from([1.0, -1.0, 0.5])), max_size=3).map(tuple),
)


@settings(deadline=None, max_examples=80)
@given(a=READINGS, b=READINGS, values=st.lists(st.floats(-100, 100), min_size=4, max_size=4))
def test_readings_add_up(a: Reading, b: Reading, values: list[float]) -> None:
    columns = dict(enumerate(values))
    arrays = {index: np.array([value, 0.0]) for index, value in columns.items()}

    def by_hand(reading: Reading) -> float:
        return reading.constant + sum(factor * columns[column] for column, factor in reading.terms)

    for reading, value in (
        (a, by_hand(a)),
        (a + b, by_hand(a) + by_hand(b)),
        (-a, -by_hand(a)),
        (a + -a, 0.0),
    ):
        assert reading.value(columns) == pytest.approx(value, abs=1e-9)
        assert np.broadcast_to(reading.value(arrays), 2)[0] == pytest.approx(value, abs=1e-9)
