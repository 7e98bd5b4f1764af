r"""Base heave: the clay below the formation fails under the weight of the ground beside the cut.

Three forms of one event, all in kPa per plan area of the moving ground. They are alternative models:
all are shown, one governs and enters the system. With *H* the depth of the cut, *B* its width, *L* its
length, *T* the undrained soil below formation, and :math:`B_1 = \min(B/\sqrt 2, T)`:

- ``bearing`` (Bjerrum & Eide 1956 with Skempton 1951): the base as an upturned deep footing;
- ``wide_cut`` (Terzaghi 1943): a block of breadth :math:`B_1` that sinks beside the cut, held by the
  bearing capacity at formation level and by the shear on its outer side;
- ``finite_cut`` (Chang 2000): the same with the length of the cut.

The load is in total stress. Free water that stands on the ground beside the cut loads it like a
surcharge, and water inside the cut presses on the base and is taken off.

The forms themselves are in :mod:`riskcut.mechanisms.heave_forms`. Side shear counts as a resistance, with
the model factor on it; with the factor at 1 taking it off the load instead would change the factor of
safety and not which rows fail.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from riskcut.ground import profile, reach, water
from riskcut.mechanisms import edge_loads, heave_forms, reading
from riskcut.mechanisms.contract import Mechanism, Member, ModelFactor, Option, Outcome, Step, Symbol
from riskcut.study.block import Block, Number

NAME: Final = "base_heave"
MEMBERS: Final = ("bearing", "wide_cut", "finite_cut")

SHORTER_SIDE: Final = "the width is the shorter side in plan: B <= L"
SHALLOW: Final = "wide_cut: the cut is wider than deep, H/B below 1"

OPTIONS: Final = {
    "governing": Option(
        meaning="which form enters the system; by range of use where it is not stated (H/B of 1 or more at "
        "the means: bearing, below: wide_cut)",
        choices=MEMBERS,
    )
}


def members(block: Block) -> tuple[Member, ...]:
    """Return the three forms, with the one that governs and the reason where none applies."""
    reason = _not_applicable(block)
    stated = reading.word(block, mechanism=NAME, key="governing", options=OPTIONS)
    ratio = float((block.surface - block.formation) / block.width)
    by_range = "bearing" if ratio >= 1.0 else "wide_cut"
    governing = stated or by_range
    if stated:
        why = f"governs because the study states it (H/B {ratio:.2f})"
    else:
        why = f"governs by range of use: H/B {ratio:.2f} is {'1 or more' if ratio >= 1.0 else 'below 1'}"
    return tuple(
        Member(
            name=name,
            governing=name == governing,
            not_applicable=reason,
            note="" if reason else why if name == governing else f"shown beside {governing}, which governs",
        )
        for name in MEMBERS
    )


class _Common(NamedTuple):
    """What the three forms share."""

    depth: Number
    action: Number
    clay: Number
    breadth: Number
    strength: Number
    side: Number
    impossible: profile.Rows
    steps: tuple[Step, ...]


def evaluate(block: Block, names: Sequence[str]) -> tuple[Outcome, ...]:
    """Return resistance and load of the named forms, kPa, with the numbers on the way.

    Rows in which strata cross, the cut has no depth, or the formation lies in drained soil have a NaN
    resistance: the form says nothing of them, and they are never counted as safe.

    Raises
    ------
    ValueError
        If a name is not one of the three.
    """
    for name in names:
        if name not in MEMBERS:
            raise ValueError(f"{NAME} has no member {name!r}")
    common = _common(block)
    return tuple(_form(block, common, name) for name in names)


def _common(block: Block) -> _Common:
    strata, surface, formation = block.strata, block.surface, block.formation
    depth = surface - formation
    overburden = profile.total_stress(strata, upper=surface, lower=formation)
    outside_water = water.pressure(head=block.water_table, elevation=surface)
    inside_water = water.pressure(head=block.water_inside, elevation=formation)
    clay = reach.undrained_depth(strata, level=formation)
    none_left = np.less_equal(clay, 0.0)
    # Any breadth will do where no clay is left: those rows are marked below.
    failing = heave_forms.failing_breadth(width=block.width, clay_thickness=clay)
    breadth = np.where(none_left, 1.0, failing)[()]
    edge = edge_loads.on_failing_ground(block.edge_loads, breadth=breadth, length=block.length)
    action = heave_forms.base_load(
        overburden=overburden,
        surcharge=block.surcharge + edge,
        standing_outside=outside_water,
        standing_inside=inside_water,
    )
    strength = profile.strength_integral(strata, upper=formation, lower=formation - breadth) / breadth
    side = profile.strength_integral(strata, upper=surface, lower=formation)
    steps = (
        Step(symbol="H", meaning="depth of the cut", unit="m", value=depth),
        Step(symbol="gamma H", meaning="weight of the ground to formation", unit="kPa", value=overburden),
        Step(symbol="q", meaning="surcharge, edge loads in it", unit="kPa", value=block.surcharge + edge),
        Step(symbol="u_o", meaning="water standing on the surface outside", unit="kPa", value=outside_water),
        Step(symbol="u_i", meaning="water standing on the formation inside", unit="kPa", value=inside_water),
        Step(symbol="S", meaning="load at formation level", unit="kPa", value=action),
        Step(symbol="T", meaning="undrained soil below formation", unit="m", value=clay),
        Step(symbol="B_1", meaning="breadth of the failing block, min(B/sqrt 2, T)", unit="m", value=breadth),
        Step(symbol="su_b", meaning="mean strength over B_1 below formation", unit="kPa", value=strength),
    )
    impossible = reading.impossible_ground(block) | none_left
    return _Common(depth, action, clay, breadth, strength, side, impossible, steps)


def _form(block: Block, common: _Common, member: str) -> Outcome:
    """Return one form of the event."""
    theta = reading.model_factor(block, mechanism=NAME, member=member)
    steps = [
        *common.steps,
        Step(symbol="theta", meaning="model factor on soil strength", unit="1", value=theta),
    ]
    outside = {SHORTER_SIDE: np.greater(block.width, block.length)}
    if member == "bearing":
        factor = heave_forms.bearing_factor(depth=common.depth, width=block.width, length=block.length)
        resistance = heave_forms.bearing_resistance(
            strength_below=common.strength, factor_nc=factor, model_factor=theta
        )
        steps.append(Step(symbol="N_c", meaning="bearing capacity factor", unit="1", value=factor))
    else:
        side = common.side
        steps.append(Step(symbol="su_u H", meaning="shear on the side of the block", unit="kN/m", value=side))
        if member == "wide_cut":
            resistance = heave_forms.wide_cut_resistance(
                strength_below=common.strength, side_shear=side, breadth=common.breadth, model_factor=theta
            )
            outside[SHALLOW] = np.greater_equal(common.depth, block.width)
        else:
            resistance = heave_forms.finite_cut_resistance(
                strength_below=common.strength,
                side_shear=side,
                breadth=common.breadth,
                length=block.length,
                model_factor=theta,
            )
            across = np.sqrt(2.0) * common.breadth
            steps.append(Step(symbol="B''", meaning="sqrt 2 B_1", unit="m", value=across))
    resistance = reading.without(resistance, common.impossible)
    steps.append(Step(symbol="R", meaning="resistance", unit="kPa", value=resistance))
    return Outcome(resistance=resistance, action=common.action, outside=outside, steps=tuple(steps))


def _not_applicable(block: Block) -> str | None:
    """Return why undrained base heave is no question in this block, None where it is one."""
    if not block.dug:
        return "nothing has been dug yet"
    if block.slab is not None:
        return (
            "the base slab closes the excavation: clay can no longer rise into an open cut, and what presses "
            "on the slab from below is a question of uplift"
        )
    level = float(block.formation)
    if float(reach.undrained_depth(block.strata, level=level)) > 0.0:
        return None
    drained = [s.name for s in block.strata if not s.undrained and float(s.top) >= level]
    return f"the formation lies in or on {drained[-1]}, which is read drained: clay cannot heave there"


_CASES: Final = (
    "recalled from the literature with low confidence (bias about 1.0 to 1.1, COV about 0.15 for bearing "
    "forms); four case records of Bjerrum & Eide 1956 (recalled) give a factor on the resistance of mean "
    "0.99 and COV 0.16, but they were chosen because they were near failure and their scatter holds the "
    "error of su too"
)

MECHANISM: Final = Mechanism(
    name=NAME,
    title="Base heave",
    sentence="The clay below the formation fails under the weight of the ground beside the cut, and the base "
    "rises.",
    unit="kPa",
    formula=(
        "S = gamma H + q + u_o - u_i; bearing: R = theta N_c su_b, N_c = 5 (1 + 0.2 min(H/B, 2.5)) (1 + 0.2 "
        "B/L); wide_cut: R = theta (5.7 su_b + su_u H/B_1); finite_cut: R = theta (5.14 su_b (1 + 0.2 B''/L) "
        "+ su_u H/B_1); B_1 = min(B/sqrt 2, T), B'' = sqrt 2 B_1"
    ),
    symbols=(
        Symbol(symbol="S", meaning="load at formation level", unit="kPa"),
        Symbol(symbol="R", meaning="resistance of the base", unit="kPa"),
        Symbol(symbol="gamma H", meaning="weight of the ground from surface to formation", unit="kPa"),
        Symbol(symbol="q", meaning="surcharge beside the cut", unit="kPa"),
        Symbol(symbol="u_o", meaning="pressure of water standing on the surface outside", unit="kPa"),
        Symbol(symbol="u_i", meaning="pressure of water standing on the formation inside", unit="kPa"),
        Symbol(symbol="H", meaning="depth of the cut", unit="m"),
        Symbol(symbol="B", meaning="width of the cut, the shorter side", unit="m"),
        Symbol(symbol="L", meaning="length of the cut", unit="m"),
        Symbol(symbol="T", meaning="undrained soil below formation, to the first drained stratum", unit="m"),
        Symbol(symbol="B_1", meaning="breadth of the failing block", unit="m"),
        Symbol(symbol="N_c", meaning="bearing capacity factor", unit="1"),
        Symbol(symbol="su_b", meaning="mean undrained strength over B_1 below formation", unit="kPa"),
        Symbol(
            symbol="su_u H", meaning="undrained strength integrated over the height of the cut", unit="kN/m"
        ),
        Symbol(symbol="theta", meaning="model factor on soil strength", unit="1"),
    ),
    range_of_use=(
        "undrained clay at and below the formation",
        SHORTER_SIDE,
        "bearing: any H/B",
        SHALLOW,
    ),
    sources=(
        "Bjerrum, L. and Eide, O. (1956), Stability of strutted excavations in clay, Geotechnique 6(1), "
        "32-47",
        "Skempton, A. W. (1951), The bearing capacity of clays, Building Research Congress, London, 1, "
        "180-189",
        "Terzaghi, K. (1943), Theoretical Soil Mechanics, Wiley",
        "Chang, M.-F. (2000), Basal stability analysis of braced cuts in clay, J. Geotech. Geoenviron. Eng. "
        "126(3), 276-279, as in Das, Principles of Foundation Engineering, 7th ed., Example 10.3",
    ),
    not_covered=(
        "help from the wall's embedment below formation, and from its bending (left out: on the safe side)",
        "help from piles across the slip surface (left out: on the safe side)",
        "side shear in drained strata beside the cut (left out: on the safe side)",
        "slip circles about the lowest prop, and deeper ones in clay that softens with depth",
        "the drop of strength with time as the clay below formation swells",
    ),
    factors={
        "bearing": ModelFactor(
            term="the undrained strength below formation",
            mean=1.0,
            cov=0.15,
            basis="judgement",
            source=_CASES,
        ),
        "wide_cut": ModelFactor(
            term="the undrained strength below formation and beside the cut",
            mean=1.0,
            cov=0.15,
            basis="judgement",
            source=_CASES + "; taken over to the wide-cut form for want of its own",
        ),
        "finite_cut": ModelFactor(
            term="the undrained strength below formation and beside the cut",
            mean=1.0,
            cov=0.20,
            basis="judgement",
            source="no calibration of this form known; wider than the bearing forms' recalled 0.15 for that "
            "reason",
        ),
    },
    members=members,
    evaluate=evaluate,
    unaffected_by=frozenset({"sumps", "rain", "aquifer", "water_under_slab"}),
    options=OPTIONS,
    monotone={
        "surcharge": -1,
        "water_table": -1,
        "water_inside": +1,
        "length": -1,
        "strata.*.unit_weight": -1,
        "strata.*.su_at_top": +1,
        "strata.*.su_per_metre": +1,
        "model_factors.*": +1,
    },
)
