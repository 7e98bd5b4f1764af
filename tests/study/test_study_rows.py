"""Sampled rows whose geometry cannot be: each way by itself, and all of them against plain comparisons."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from study_texts import compiled, template

from riskcut.study.template import bounds, impossible_rows

STUDY = compiled("""\
title: A dig of which every level is uncertain
targets: {temporary: {beta: 3.0, period: stage}}
ground:
  strata:
    fill: {top: {mean: 10, sd: 0.2}, unit_weight: 18, friction_angle: 30}
    clay: {top: {mean: 8, sd: 0.2}, unit_weight: 18, su: {mean: 40, sd: 4}}
    sand: {top: {mean: 0, sd: 0.2}, unit_weight: 18, friction_angle: 33, cohesion: {mean: 5, sd: 1}}
water: {table: 7}
works:
  cut: {width: 10, length: 20}
  wall: {toe: {mean: 1, sd: 0.2}, thickness: 0.6}
  props:
    upper: {level: {mean: 9, sd: 0.05}, spacing: 4, made: steel, resistance: 2000}
    lower: {level: {mean: 5, sd: 0.05}, spacing: 4, made: steel, resistance: 2000}
stages:
  before: {note: nothing is done}
  one: {dig_to: {mean: 7.5, sd: 0.1}}
  two: {install: upper}
  three: {dig_to: 4.5, overdig: {low: 0, high: 0.5}, install: lower}
  four: {remove: upper}
""")
NAMES = {
    "surface": "ground.strata.fill.top",
    "clay": "ground.strata.clay.top",
    "sand": "ground.strata.sand.top",
    "su": "ground.strata.clay.su",
    "cohesion": "ground.strata.sand.cohesion",
    "toe": "works.wall.toe",
    "upper": "works.props.upper.level",
    "lower": "works.props.lower.level",
    "dig": "stages.one.dig_to",
    "overdig": "stages.three.overdig",
}
INDEX = {
    short: next(i for i, c in enumerate(STUDY.columns) if c.address == name) for short, name in NAMES.items()
}
MEANS = {short: STUDY.columns[index].mean for short, index in INDEX.items()}


def flagged(stage: str, rows: list[dict[str, float]]) -> list[bool]:
    """Return which rows the study calls impossible at a stage; what a row leaves out is at its mean."""
    here = template(STUDY, stage)
    columns: dict[int, Any] = {
        index: np.array([row.get(short, MEANS[short]) for row in rows])
        for short, index in INDEX.items()
        if index in here.columns
    }
    impossible = impossible_rows(here.fill(columns), columns, bounds(here, STUDY.columns))
    return [bool(row) for row in np.broadcast_to(impossible, len(rows))]


@pytest.mark.parametrize(
    ("stage", "name", "values", "expected"),
    [
        ("before", "clay", [9.9, 10.0, 10.1], [False, True, True]),
        ("before", "sand", [7.9, 8.0, 8.1], [False, True, True]),
        ("before", "su", [0.1, 0.0, -0.1], [False, True, True]),
        ("before", "cohesion", [0.1, 0.0, -0.1], [False, False, True]),
        ("before", "surface", [8.1, 12.0, 8.0], [False, False, True]),
        ("before", "toe", [9.9, 10.0, 10.1], [False, True, True]),
        ("one", "dig", [9.9, 10.0, 10.1], [False, True, True]),
        ("one", "toe", [7.4, 7.5, 7.6], [False, True, True]),
        ("one", "upper", [0.0, 7.5, 20.0], [False, False, False]),
        ("two", "upper", [7.6, 7.5, 7.4], [False, True, True]),
        ("three", "upper", [7.4, 4.25, 4.0], [False, True, True]),
        ("three", "lower", [4.5, 4.25, 4.0], [False, True, True]),
        ("three", "overdig", [0.0, 3.25, 3.5], [False, False, True]),
        ("three", "dig", [7.5, 12.0, -5.0], [False, False, False]),
        ("four", "upper", [9.0, 0.0, -9.0], [False, False, False]),
        ("four", "lower", [4.5, 4.25, 4.0], [False, True, True]),
    ],
)
def test_each_way_by_itself(stage: str, name: str, values: list[float], expected: list[bool]) -> None:
    assert flagged(stage, [{name: value} for value in values]) == expected


def test_no_row_at_the_means_is_impossible() -> None:
    for stage in ("before", "one", "two", "three", "four"):
        assert flagged(stage, [{}, {}]) == [False, False]


LEVEL = st.integers(-1, 11).map(float)
ROW = st.fixed_dictionaries(
    {},
    optional={short: LEVEL for short in NAMES if short not in ("overdig", "su", "cohesion")}
    | {"overdig": st.sampled_from([0.0, 0.5, 3.5]), "su": LEVEL, "cohesion": LEVEL},
)


@settings(deadline=None, max_examples=80)
@given(
    rows=st.lists(ROW, min_size=2, max_size=6),
    stage=st.sampled_from(["before", "one", "two", "three", "four"]),
)
def test_all_ways_together(rows: list[dict[str, float]], stage: str) -> None:
    expected = []
    for row in rows:
        at = {**MEANS, **row}
        formation = {"before": at["surface"], "one": at["dig"], "two": at["dig"]}.get(
            stage, 4.5 - at["overdig"]
        )
        props = {"two": ["upper"], "three": ["upper", "lower"], "four": ["lower"]}.get(stage, [])
        possible = (
            at["surface"] > at["clay"] > at["sand"]
            and (stage == "before" or at["surface"] > formation)
            and formation > at["toe"]
            and all(at[prop] > formation for prop in props)
            and at["su"] > 0
            and at["cohesion"] >= 0
        )
        expected.append(not possible)
    assert flagged(stage, rows) == expected
