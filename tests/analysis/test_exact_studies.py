"""Whole studies whose failure probability is known exactly."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm
from small_studies import HEAVE, PLUG

GAMMA_W = 9.81
UPLIFT = {"limit_state": "plug_uplift/plug"}


def pf_of_plug(formation: float, mean: float = -2.0, sd: float = 0.5) -> float:
    """A plug of 18 kN/m3 from the formation to -20 m fails where 9.81 (head + 20) exceeds its weight."""
    head = 18.0 * (formation + 20.0) / GAMMA_W - 20.0
    return float(norm.sf(head, mean, sd))


def assert_near(tree, name, exact, **where):
    group = tree["reliability"].dataset
    p = float(group[name].sel(where)) if where else float(group[name].item())
    rows = int(group["rows"])
    assert abs(p - exact) < 4.0 * math.sqrt(exact * (1 - exact) / rows), (p, exact)


def test_one_stage(run):
    tree = run(PLUG)
    assert pf_of_plug(-10.0) == pytest.approx(norm.sf((180 / 9.81 - 18) / 0.5))
    assert_near(tree, "failure_probability", pf_of_plug(-10.0), section="whole_cut", stage="dig_1", **UPLIFT)


def test_stages_with_their_own_heads_are_independent(run):
    # Check value I10: 1 - (1 - p1)(1 - p2); one head for both stages would give the larger of the two.
    tree = run(PLUG, ("dig_1: {dig_to: -10}", "dig_1: {dig_to: -9.6}\n  dig_2: {dig_to: -10}"))
    p1, p2 = pf_of_plug(-9.6), pf_of_plug(-10.0)
    assert_near(tree, "failure_probability", p1, section="whole_cut", stage="dig_1", **UPLIFT)
    assert_near(tree, "section_failure_probability", 1 - (1 - p1) * (1 - p2), section="whole_cut")


def test_stages_of_one_season_share_one_head(run):
    both = "dig_1: {dig_to: -9.6, season: winter}\n  dig_2: {dig_to: -10, season: winter}"
    tree = run(PLUG, ("dig_1: {dig_to: -10}", both))
    assert_near(tree, "section_failure_probability", pf_of_plug(-10.0), section="whole_cut")


def test_a_constant_head_is_one_draw_for_all_stages(run):
    two = "dig_1: {dig_to: -9.6}\n  dig_2: {dig_to: -10}"
    tree = run(
        PLUG, ("{mean: -2, sd: 0.5}", "{mean: -2, sd: 0.5, varies: constant}"), ("dig_1: {dig_to: -10}", two)
    )
    assert_near(tree, "section_failure_probability", pf_of_plug(-10.0), section="whole_cut")


def test_a_shared_part_widens_each_stage_and_ties_them(run):
    tree = run(PLUG, ("{mean: -2, sd: 0.5}", "{mean: -2, sd: 0.4, shared: {sd: 0.3}}"))
    assert_near(tree, "failure_probability", pf_of_plug(-10.0), section="whole_cut", stage="dig_1", **UPLIFT)


def test_a_drawdown_is_taken_off_the_head(run):
    low = "dig_1: {dig_to: -10, water: {drawdown: {mean: 1.2, sd: 0.24}}}"
    tree = run(PLUG, ("dig_1: {dig_to: -10}", low), ("{mean: -2, sd: 0.5}", "{mean: -1.2, sd: 0.5}"))
    exact = pf_of_plug(-10.0, mean=-2.4, sd=math.hypot(0.5, 0.24))
    assert_near(tree, "failure_probability", exact, section="whole_cut", stage="dig_1", **UPLIFT)


def test_a_stage_of_fifty_years_meets_the_fifty_year_head(run):
    gumbel = "{dist: gumbel, mean: -3.4, sd: 0.3, period: 1 year}"
    tree = run(
        PLUG,
        ("{mean: -2, sd: 0.5}", gumbel),
        ("dig_1: {dig_to: -10}", "dig_1: {dig_to: -10, lasts: 50 years}"),
    )
    scale = 0.3 * math.sqrt(6) / math.pi
    location = -3.4 - np.euler_gamma * scale
    head = 18.0 * 10.0 / GAMMA_W - 20.0
    exact = 1 - math.exp(-50 * math.exp(-(head - location) / scale))
    assert_near(tree, "failure_probability", exact, section="whole_cut", stage="dig_1", **UPLIFT)


def test_a_stage_of_a_month_meets_the_head_of_the_year(run):
    # No shift for part of a period: the dig may meet the wet season.
    gumbel = "{dist: gumbel, mean: -2.4, sd: 0.4, period: 1 year}"
    tree = run(
        PLUG,
        ("{mean: -2, sd: 0.5}", gumbel),
        ("dig_1: {dig_to: -10}", "dig_1: {dig_to: -10, lasts: 1 month}"),
    )
    scale = 0.4 * math.sqrt(6) / math.pi
    location = -2.4 - np.euler_gamma * scale
    exact = 1 - math.exp(-math.exp(-(18.0 * 10.0 / GAMMA_W - 20.0 - location) / scale))
    assert_near(tree, "failure_probability", exact, section="whole_cut", stage="dig_1", **UPLIFT)


def test_strength_alone_uncertain_is_exact(run):
    # Check value I9: Pf = Phi(ln(su*/m)/zeta), su* the root of R = S.
    tree = run(HEAVE)
    zeta = math.sqrt(math.log(1 + 0.25**2))
    median = 40 / math.sqrt(1 + 0.25**2)
    nc = 5 * (1 + 0.2 * min(12 / 6, 2.5)) * (1 + 0.2 * 6 / 12)
    root = brentq(lambda su: nc * su - 18 * 12, 1, 100)
    exact = float(norm.cdf(math.log(root / median) / zeta))
    where = {"section": "whole_cut", "stage": "dig_1", "limit_state": "base_heave/bearing"}
    assert_near(tree, "failure_probability", exact, **where)
    assert int(tree["reliability"]["governing"].sel(where)) == 1


SECTIONS = HEAVE + "sections:\n  west: {}\n  east: {}\n"


def test_sections_share_their_ground_or_are_independent(run):
    tree = run(SECTIONS)
    p = tree["reliability"]["section_failure_probability"].values
    assert p[0] == p[1]  # one driver: the very same rows fail
    overall = tree["reliability"]["overall_failure_probability"].values
    assert overall[0] == p[0]
    assert overall[1] == pytest.approx(1 - (1 - p[0]) ** 2, rel=1e-12)


def test_a_section_changes_what_it_states_and_nothing_else(run):
    tree = run(SECTIONS, ("east: {}", "east: {stages: {dig_1: {dig_to: -6}}}"))
    fs = tree["reliability"]["factor_of_safety_at_means"].sel(limit_state="base_heave/bearing").values.ravel()
    nc = [5 * (1 + 0.2 * min(h / 6, 2.5)) * (1 + 0.2 * 6 / 12) for h in (12, 6)]
    assert fs == pytest.approx([nc[0] * 40 / (18 * 12), nc[1] * 40 / (18 * 6)], rel=1e-12)
