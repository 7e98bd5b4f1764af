"""What is drawn of the box: its levels, by section and stage."""

from __future__ import annotations

import numpy as np
from box_scenario import PROPS, STAGES, STRATA, standing


def cut_group(group: dict[str, np.ndarray], applies: np.ndarray, stages: list[str]) -> dict[str, np.ndarray]:
    """Fill the group that the drawn section is made from."""
    sections = applies.shape[0]
    for name in (
        "stage_applies",
        "has_stratum",
        "has_wall",
        "has_prop",
        "has_slab",
        "has_piles",
        "has_aquifer",
    ):
        group[name][...] = 1
    group["stage_applies"][...] = applies
    group["stratum_top"][...] = [top for top, _kind in STRATA.values()]
    group["stratum_kind"][...] = [kind for _top, kind in STRATA.values()]
    group["stratum_top_bounds"][...] = group["stratum_top"][..., None]
    group["stratum_top_bounds"][:, 3] += (-0.82, 0.82)
    for name, number in (
        ("ground_surface", 3.2),
        ("cut_width", 22.0),
        ("wall_toe", -22.0),
        ("wall_thickness", 1.0),
        ("slab_thickness", 1.5),
        ("pile_length", 14.0),
        ("pile_diameter", 0.75),
        ("pile_spacing", 3.5),
        ("pile_head", -9.8),
        ("surcharge", 10.0),
        ("water_table", 2.1),
        ("aquifer_head", 1.1),
    ):
        group[name][...] = number
    group["aquifer_head_bounds"][...] = (0.62, 1.75)
    group["aquifer_stratum"][...] = "sand_aquifer"
    formation = np.array([STAGES[s] for s in stages])
    group["formation"][...] = formation
    group["formation_bounds"][...] = formation[:, None] + np.where(
        formation[:, None] < 3.2, (-0.16, 0.16), 0.0
    )
    group["water_inside"][...] = np.minimum(formation, 2.1)
    group["surcharge"][:, 0] = 0.0
    group["prop_level"][...] = [level for level, _made in PROPS.values()]
    group["prop_made"][...] = [made for _level, made in PROPS.values()]
    for j in range(len(stages)):
        group["prop_standing"][:, j] = [standing(prop, stages[: j + 1]) for prop in PROPS]
        group["piles_installed"][:, j] = 1
        group["slab_cast"][:, j] = "slab" in stages[: j + 1]
    if sections > 2:
        shallow(group, 2)
    absent = group["stage_applies"] == 0
    for name in (
        "formation",
        "formation_bounds",
        "water_table",
        "water_inside",
        "aquifer_head",
        "aquifer_head_bounds",
        "surcharge",
    ):
        group[name][absent] = np.nan
    return group


def shallow(group: dict[str, np.ndarray], section: int) -> None:
    """Make one section a shallow, flooded trench without wall, props, slab, piles or aquifer."""
    for name in (
        "has_wall",
        "has_prop",
        "has_slab",
        "has_piles",
        "has_aquifer",
        "prop_standing",
        "slab_cast",
        "piles_installed",
    ):
        group[name][section] = 0
    for name in (
        "wall_toe",
        "wall_thickness",
        "slab_thickness",
        "pile_length",
        "pile_diameter",
        "pile_spacing",
        "pile_head",
        "aquifer_head",
        "aquifer_head_bounds",
        "prop_level",
    ):
        group[name][section] = np.nan
    group["prop_made"][section] = ""
    group["aquifer_stratum"][section] = ""
    group["cut_width"][section] = 6.0
    group["formation"][section] = np.maximum(group["formation"][section], 0.2)
    group["formation_bounds"][section] = group["formation"][section][:, None] + np.where(
        group["formation"][section][:, None] < 3.2, (-0.1, 0.1), 0.0
    )
    group["water_inside"][section] = np.where(group["formation"][section] < 3.2, 1.6, 2.1)
