"""What the reliability index owes to certain numbers: closed forms, and the search done again with a number moved."""

from __future__ import annotations

import io
import math
from typing import Any

import numpy as np
import pytest
from ruamel.yaml import YAML
from small_studies import DEMO, HEAVE, PLUG

from riskcut.analysis.binding import Bound, bind
from riskcut.analysis.gather_constants import constants, index_derivatives
from riskcut.reliability.design_point import DesignPoint
from riskcut.reliability.searches import Searches
from riskcut.reliability.standard_space import Ledger, StandardSpace
from riskcut.results import hand, reading
from riskcut.results.stated_numbers import Owed, owed, told_change
from riskcut.results.status import Status
from riskcut.study.reading import parse_study
from riskcut.study.stated_numbers import stated_numbers

GAMMA_W = 9.81


def bound_study(text: str) -> Bound:
    return bind(parse_study("study.yaml", text.encode(), lambda name: (DEMO.parent / name).read_bytes()))


def searched(bound: Bound, stage: str, label: str) -> tuple[Any, int, StandardSpace, DesignPoint]:
    """Return the part, the place in it, its space and the nearest design point of one limit state."""
    places = {component.name: place for place, component in enumerate(bound.problem.components)}
    for block in bound.blocks:
        for part in bound.parts[block.key] if block.template.stage == stage else ():
            for i, state in enumerate(part.states):
                if state.label == label:
                    place = places[part.name]
                    searches = Searches(bound.problem, Ledger())
                    searches.look((place, i))
                    found = searches.found[place, i]
                    assert found.converged
                    return part, i, StandardSpace(bound.problem, [place]), found.points[0]
    raise AssertionError(label)


def slopes(text: str, stage: str, label: str) -> tuple[float, dict[str, float], dict[str, bool]]:
    """Return beta, its derivatives by address, and whether they are steady."""
    bound = bound_study(text)
    part, i, space, point = searched(bound, stage, label)
    found = index_derivatives(bound, part, space, {i: point})[i]
    names = list(stated_numbers(part.block.template.pattern))
    by_name = dict(zip(names, found.value.tolist(), strict=True))
    return point.beta, by_name, dict(zip(names, found.steady.tolist(), strict=True))


def test_a_linear_margin_of_a_normal_head():
    beta, slope, _ = slopes(PLUG, "dig_1", "plug_uplift/plug")
    sd, gamma, formation, top = GAMMA_W * 0.5, 18.0, -10.0, -20.0
    assert beta == pytest.approx((gamma * (formation - top) - GAMMA_W * (-2.0 - top)) / sd, rel=1e-6)
    assert slope["ground.strata.clay.unit_weight"] == pytest.approx((formation - top) / sd, rel=1e-6)
    assert slope["stages.dig_1.dig_to"] == pytest.approx(gamma / sd, rel=1e-6)
    assert slope["ground.strata.sand.top"] == pytest.approx((GAMMA_W - gamma) / sd, rel=1e-6)
    assert slope["ground.strata.sand.friction_angle"] == 0.0


def test_a_lognormal_strength():
    text = HEAVE.replace("water: {table: -1}", "water: {table: -1}\nloads: {surcharge: 10}")
    _, slope, _ = slopes(text, "dig_1", "base_heave/wide_cut")
    zeta = math.sqrt(math.log1p(0.25**2))
    # R = f (form) su with su lognormal, S = gamma H + q: beta = ln(R/S at the median) / zeta.
    action = 18.0 * 12.0 + 10.0
    assert slope["model_factors.base_heave.wide_cut"] == pytest.approx(1.0 / zeta, rel=1e-5)
    assert slope["loads.surcharge"] == pytest.approx(-1.0 / (zeta * action), rel=1e-5)
    assert slope["ground.strata.clay.unit_weight"] == pytest.approx(-12.0 / (zeta * action), rel=1e-5)


@pytest.mark.parametrize(
    ("address", "stage", "label"),
    [
        ("ground.strata.crust.top", "dig_4", "prop_overload/middle"),
        ("works.props.middle.spacing", "dig_4", "prop_overload/middle"),
        ("ground.strata.soft_clay.top", "dig_4", "base_heave/wide_cut"),
        ("ground.strata.crust.unit_weight", "dig_4", "base_heave/wide_cut"),
        ("works.tension_piles.diameter", "in_service", "plug_uplift/plug"),
        ("works.slab.thickness", "in_service", "plug_uplift/plug"),
    ],
)
def test_the_search_done_again_with_a_number_moved(address, stage, label):
    _, slope, steady = slopes(DEMO.read_text(encoding="utf-8"), stage, label)
    number = constants(bound_study(DEMO.read_text(encoding="utf-8")))[address]
    step = 0.02 * told_change(number.value, number.unit)
    low, high = (
        searched(bound_study(moved(address, number.value + side * step)), stage, label)[3].beta
        for side in (-1, 1)
    )
    assert abs(slope[address]) > 1e-3
    assert steady[address]
    assert (high - low) / (2 * step) == pytest.approx(slope[address], rel=0.01)


def moved(address: str, value: float) -> str:
    """Return the demonstration with one number at another value."""
    yaml = YAML()
    tree = yaml.load(DEMO.read_text(encoding="utf-8"))
    *path, last = address.split(".")
    at = tree
    for key in path:
        at = at[key]
    assert isinstance(at[last], float | int)
    at[last] = value
    text = io.StringIO()
    yaml.dump(tree, text)
    return text.getvalue()


def test_a_kink_is_told_and_not_trusted():
    """The formation at the border of two clays: raised it leaves 18 kN/m3 more, lowered it takes 22 kN/m3 away."""
    text = PLUG.replace(
        "clay: {top: 0, unit_weight: 18, su: 400}",
        "light: {top: 0, unit_weight: 18, su: 400}\n    heavy: {top: -10, unit_weight: 22, su: 400}",
    )
    _, slope, steady = slopes(text, "dig_1", "plug_uplift/plug")
    assert not steady["stages.dig_1.dig_to"]
    assert slope["stages.dig_1.dig_to"] == pytest.approx(20.0 / (GAMMA_W * 0.5), rel=1e-5)
    assert steady["ground.strata.heavy.unit_weight"]


def test_a_number_at_its_bound_is_only_raised():
    """A surcharge of nothing: the closed form of a lognormal strength still holds."""
    text = HEAVE.replace("water: {table: -1}", "water: {table: -1}\nloads: {surcharge: 0}")
    bound = bound_study(text)
    assert constants(bound)["loads.surcharge"].at_least == 0.0
    _, slope, steady = slopes(text, "dig_1", "base_heave/wide_cut")
    zeta = math.sqrt(math.log1p(0.25**2))
    assert slope["loads.surcharge"] == pytest.approx(-1.0 / (zeta * 18.0 * 12.0), rel=1e-4)
    assert steady["loads.surcharge"]


def test_the_tree_says_which_numbers_are_known_and_the_sheet_names_the_greatest(run):
    tree = run(PLUG, cap_blocks=2)
    where = {"section": "whole_cut", "stage": "dig_1", "limit_state": "plug_uplift/plug"}
    group = tree["design_point"].dataset.sel(where)
    status = group["index_sensitivity_to_constant_status"].values
    assert (status == Status.COMPUTED).all()
    assert not np.isnan(group["index_sensitivity_to_constant"].values).any()
    found = owed(tree, reading.estimate(tree, *where.values()))
    # The levels by 0.1 m, the unit weight by 1 %: the closed form of the linear margin.
    wanted = {
        "stages.dig_1.dig_to": 18.0 * 0.1,
        "ground.strata.clay.unit_weight": 10.0 * 0.18,
        "ground.strata.sand.top": (GAMMA_W - 18.0) * 0.1,
    }
    assert {one.address: one.change for one in found} == pytest.approx(
        {name: change / (GAMMA_W * 0.5) for name, change in wanted.items()}, rel=1e-5
    )
    assert found[-1].address == "ground.strata.sand.top"
    text = hand.sheet(tree, **where)
    assert "stages.dig_1.dig_to -10.0 m: +0.37 for 0.1 m more" in text
    assert "ground.strata.clay.unit_weight 18.0 kN/m3: +0.37 for 1 % more" in text


def test_the_change_told_of_goes_with_the_sign_of_the_number():
    """One per cent more of -5 is 0.05 less; a level is raised wherever it lies."""
    assert Owed("a.b", -5.0, "degC", 2.0).words == "a.b -5.00 degC: -0.1 for 1 % more"
    assert Owed("a.b", -5.0, "m", 2.0).words == "a.b -5.00 m: +0.2 for 0.1 m more"
    assert Owed("a.b", 0.0, "kPa", 2.0).change == 0.0


def test_plain_simulation_alone_has_none(run):
    tree = run(PLUG, cap_blocks=2, method="plain")
    where = {"section": "whole_cut", "stage": "dig_1", "limit_state": "plug_uplift/plug"}
    assert owed(tree, reading.estimate(tree, *where.values())) == []
    text = hand.sheet(tree, **where)
    assert "No numbers at a design point: none was looked for" in text
    assert "nan" not in text.lower().split()
