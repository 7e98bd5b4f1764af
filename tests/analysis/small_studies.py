"""Small studies whose answer is known, which tests change by replacing pieces of them."""

from pathlib import Path

DEMO = Path(__file__).parents[2] / "studies" / "a_pumping_station.yaml"

PLUG = """
title: A plug over an aquifer
targets: {temporary: {beta: 3.0}}
ground:
  strata:
    clay: {top: 0, unit_weight: 18, su: 400}
    sand: {top: -20, unit_weight: 20, friction_angle: 35}
water:
  table: -1
  aquifer: {stratum: sand, head: {mean: -2, sd: 0.5}}
works:
  cut: {width: 20, length: 30}
stages:
  dig_1: {dig_to: -10}
"""

HEAVE = """
title: Heave of a deep narrow cut
targets: {temporary: {beta: 2.0}}
ground:
  strata:
    clay: {top: 0, unit_weight: 18, su: {dist: lognormal, mean: 40, cov: 0.25}}
water: {table: -1}
works:
  cut: {width: 6, length: 12}
model_factors: {base_heave: {bearing: 1, wide_cut: 1, finite_cut: 1}}
stages:
  dig_1: {dig_to: -12}
"""
