"""The scenario of the tests of the figures: an invented propped box, 13 m deep in clay over sand."""

from __future__ import annotations

ROWS = 262_144
CHECKPOINTS = tuple(8192 * 2**k for k in range(6))
BINS = 60

STAGES = {
    "wall_and_piles": 3.2,
    "dig_1": 0.8,
    "upper_props": 0.8,
    "dig_2": -3.2,
    "middle_props": -3.2,
    "dig_3": -6.4,
    "lower_props": -6.4,
    "dig_4": -9.8,
    "slab": -9.8,
    "lower_props_out": -9.8,
    "middle_props_out": -9.8,
    "in_service": -9.8,
}
PROPS = {"upper": (2.0, "in_situ"), "middle": (-2.0, "precast"), "lower": (-5.4, "steel")}
STRATA = {
    "crust": (3.2, "drained"),
    "soft_clay": (1.9, "undrained"),
    "firm_clay": (-11.0, "undrained"),
    "sand_aquifer": (-24.0, "drained"),
}

# limit state: unit, factor of safety at 13 m, coefficient of variation of it, governs
STATES = {
    "base_heave/bearing": ("kPa", 1.85, 0.16, True),
    "base_heave/wide_cut": ("kPa", 2.1, 0.17, False),
    "uplift/plug": ("kPa", 1.24, 0.075, True),
    "hydraulic_heave/prism": ("kPa", 1.6, 0.14, True),
    "exit_gradient/inside_wall": ("1", 2.3, 0.2, True),
    "prop_overload/upper": ("kN", 2.2, 0.19, True),
    "prop_overload/middle": ("kN", 1.75, 0.17, True),
    "prop_overload/lower": ("kN", 1.95, 0.16, True),
    "prop_friction/middle": ("kN", 2.6, 0.2, True),
    "wall_rotation/lowest_prop": ("kN m/m", 1.9, 0.18, True),
    "wall_bending/below_lowest_prop": ("kN m/m", 1.7, 0.15, True),
    "flotation/slab_and_piles": ("kPa", 1.45, 0.08, True),
    "tension_piles/shaft": ("kN", 2.0, 0.2, True),
    "trench/slurry": ("kPa", 3.5, 0.2, True),
}

VARIABLES = {
    "ground.strata.crust.unit_weight": ("kN/m3", 18.0, 0.8),
    "ground.strata.soft_clay.unit_weight": ("kN/m3", 17.1, 0.7),
    "ground.strata.soft_clay.su.at_top": ("kPa", 17.0, 3.0),
    "ground.strata.soft_clay.su.per_metre": ("kPa/m", 2.6, 0.45),
    "ground.strata.firm_clay.su.at_top": ("kPa", 55.0, 9.0),
    "ground.strata.firm_clay.unit_weight": ("kN/m3", 19.0, 0.6),
    "ground.strata.sand_aquifer.top": ("m", -24.0, 0.5),
    "ground.strata.sand_aquifer.friction_angle": ("degrees", 36.0, 1.8),
    "ground.aquifer_head": ("m", 1.1, 0.35),
    "ground.water_table": ("m", 2.1, 0.3),
    "works.props.upper.resistance": ("kN", 6800.0, 680.0),
    "works.props.middle.resistance": ("kN", 7400.0, 740.0),
    "works.tension_piles.adhesion": ("1", 0.5, 0.1),
    "stages.dig_4.dig_to": ("m", -9.8, 0.1),
    "mechanisms.base_heave.model_factor": ("1", 1.0, 0.15),
    "mechanisms.prop_overload.model_factor.middle": ("1", 0.8, 0.25),
}

ATTRIBUTES = {
    "history": "made for a test",
    "caution": "invented",
    "riskcut_version": "0",
    "package_versions": "{}",
    "cpu": "none",
    "python_version": "3",
    "seed": 20261,
    "block_rows": 8192,
    "study_file": "box.yaml",
    "not_covered": "ground movement",
    "summary": "",
}


def standing(prop: str, done: list[str]) -> bool:
    """Whether props stand once these stages are done."""
    return f"{prop}_props" in done and f"{prop}_props_out" not in done
