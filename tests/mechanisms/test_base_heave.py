"""Base heave: which form governs, where it applies, and what the arrangement of terms changes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from riskcut.mechanisms.base_heave import MECHANISM, MEMBERS
from riskcut.mechanisms.heave_common import EVEN
from riskcut.mechanisms.heave_facts import SHALLOW, SHORTER_SIDE
from riskcut.study.block import Block, EdgeLoad, Piles, Slab, Stratum, Wall

Maker = Callable[..., Block]


PILES = Piles(
    diameter=0.6,
    length=10.0,
    head=-9.0,
    spacing_along=3.0,
    spacing_across=4.0,
    adhesion=0.5,
    shaft_ratio=0.3,
    steel_resistance=1500.0,
)
WALL = Wall(toe=-16.0, thickness=0.8, adhesion=0.5, bending_resistance=900.0)
"""With what every form asks for."""


def governing(block: Block) -> list[str]:
    return [member.name for member in MECHANISM.members(block) if member.governing]


def test_all_forms_are_shown_and_one_governs_by_range(make_block: Maker) -> None:
    deep, wide = make_block(width=9.0), make_block(width=9.1)
    assert [member.name for member in MECHANISM.members(deep)] == list(MEMBERS)
    assert governing(deep) == ["bearing"]
    assert governing(wide) == ["wide_cut"]
    notes = {member.name: member.note for member in MECHANISM.members(wide)}
    assert notes["wide_cut"] == "governs by range of use: H/B 0.99 is below 1"
    assert notes["bearing"] == "shown beside wide_cut, which governs"


@pytest.mark.parametrize("choice", MEMBERS)
def test_a_study_may_name_the_governing_form(make_block: Maker, choice: str) -> None:
    block = make_block(options={"base_heave": {"governing": choice}}, wall=WALL, piles=PILES)
    assert governing(block) == [choice]
    note = next(m.note for m in MECHANISM.members(block) if m.governing)
    beside = {
        "with_piles": "upper bound: superposition of clay and piles",
        "circle": "shear above the lowest prop and a recalled bias of the model are left out, both on the safe side",
    }
    assert note == "; ".join(
        ("governs because the study states it (H/B 1.12)", *filter(None, [beside.get(choice)]))
    )


@pytest.mark.parametrize(
    ("choice", "changes"), [("circle", {"props": ()}), ("embedded_wall", {"wall": None}), ("with_piles", {})]
)
def test_a_stated_form_that_does_not_apply_leaves_the_event_to_the_range_of_use(
    make_block: Maker, choice: str, changes: dict
) -> None:
    block = make_block(options={"base_heave": {"governing": choice}}, **changes)
    assert governing(block) == ["bearing"]
    notes = {member.name: member.note for member in MECHANISM.members(block)}
    assert notes["bearing"].endswith(f"(the study states {choice}, which does not apply here)")
    assert notes[choice] == ""


def test_an_unknown_form_is_refused(make_block: Maker) -> None:
    with pytest.raises(ValueError, match=r"models\.base_heave\.governing is 'spiral': state one of bearing,"):
        MECHANISM.members(make_block(options={"base_heave": {"governing": "spiral"}}))


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"dug": False}, "nothing has been dug yet"),
        ({"slab": Slab(thickness=1.0, unit_weight=24.0)}, "the base slab closes the excavation"),
        ({"formation": -20.0}, "the formation lies in or on sand, which is read drained"),
        ({"formation": -23.0}, "the formation lies in or on sand, which is read drained"),
    ],
)
def test_reasons_not_to_apply(make_block: Maker, changes: dict, reason: str) -> None:
    for member in MECHANISM.members(make_block(**changes)):
        assert member.not_applicable is not None
        assert member.not_applicable.startswith(reason)
        assert member.note == ""


def test_numbers_by_hand(make_block: Maker) -> None:
    """H 9, B 8, L 40: su_b over 5.657 m below -9: 3 m of soft (38.5 to 43) and 2.657 m of firm (60)."""
    block = make_block()
    breadth = 8.0 / 2.0**0.5
    strength = (3.0 * (38.5 + 43.0) / 2.0 + (breadth - 3.0) * 60.0) / breadth
    side = 9.0 * (25.0 + 38.5) / 2.0
    expected = {
        "bearing": 5.0 * (1.0 + 0.2 * 9.0 / 8.0) * (1.0 + 0.2 * 8.0 / 40.0) * strength,
        "wide_cut": 5.7 * strength + side / breadth,
        "finite_cut": 5.14 * strength * (1.0 + 0.2 * 8.0 / 40.0) + side / breadth,
    }
    for member, resistance in expected.items():
        outcome = MECHANISM.outcome(block, member)
        assert outcome.resistance == pytest.approx(resistance, rel=1e-12)
        assert outcome.action == pytest.approx(9.0 * 17.0 + 10.0, rel=1e-12)
        factored = MECHANISM.outcome(
            replace(block, model_factors={f"base_heave/{member}": 0.8, "base_heave/other": 3.0}), member
        )
        assert factored.resistance == pytest.approx(0.8 * resistance, rel=1e-12)
        assert factored.action == outcome.action


def test_water_inside_relieves_and_a_tide_outside_loads(make_block: Maker) -> None:
    dry = MECHANISM.outcome(make_block(), "bearing").action
    flooded = MECHANISM.outcome(make_block(water_inside=-6.0), "bearing").action
    tide = MECHANISM.outcome(make_block(water_table=1.5), "bearing").action
    assert flooded == pytest.approx(dry - 3.0 * 9.81)
    assert tide == pytest.approx(dry + 1.5 * 9.81)


def test_a_row_dug_into_the_sand_is_impossible_and_never_safe(make_block: Maker) -> None:
    top = np.array([-20.0, -9.0, -8.0])
    soft, _, sand = make_block().strata
    block = make_block(strata=(soft, replace(sand, top=top)), wall=WALL, piles=PILES)
    for member in MEMBERS:
        outcome = MECHANISM.outcome(block, member)
        np.testing.assert_array_equal(np.isnan(outcome.resistance), [False, True, True])
        assert np.all(np.isfinite(np.broadcast_to(outcome.action, 3)))


def test_thin_clay_bounds_the_failing_block(make_block: Maker) -> None:
    soft, _, sand = make_block().strata
    block = make_block(strata=(soft, replace(sand, top=-11.0)))
    steps = {step.symbol: step.value for step in MECHANISM.outcome(block, "wide_cut").steps}
    assert steps["T"] == pytest.approx(2.0)
    assert steps["B_1"] == pytest.approx(2.0)
    assert steps["su_b"] == pytest.approx(25.0 + 1.5 * 10.0)


def test_limits_of_the_range_are_told(make_block: Maker) -> None:
    block = make_block(width=np.array([8.0, 12.0, 50.0]))
    assert set(MECHANISM.outcome(block, "bearing").outside) == {SHORTER_SIDE, EVEN}
    outside = MECHANISM.outcome(block, "wide_cut").outside
    np.testing.assert_array_equal(outside[SHORTER_SIDE], [False, False, True])
    np.testing.assert_array_equal(outside[SHALLOW], [True, False, False])


def test_without_strength_nothing_but_the_wall_is_left(make_block: Maker) -> None:
    """Clay like water: no form holds anything, save for the wall's bending at the prop in the circle."""
    slurry = Stratum(name="clay", top=0.0, unit_weight=15.0, su_at_top=0.0)
    block = make_block(strata=(slurry,), aquifer=None, wall=WALL, piles=PILES, width=9.0)
    for member in MEMBERS:
        outcome = MECHANISM.outcome(block, member)
        assert outcome.resistance == pytest.approx(2.0 * 900.0 / 9.5**2 if member == "circle" else 0.0)
        assert outcome.action == pytest.approx(9.0 * 15.0 + 10.0)


def test_soft_clay_over_stiff_is_out_of_the_range_of_a_mean(make_block: Maker) -> None:
    """B_1 5.657: 2 m at 20 kPa over the rest at su; at the limits the mean is 20/0.5 or 20/1.5."""
    breadth = 8.0 / 2.0**0.5
    soft, rest = 2.0 / breadth, 1.0 - 2.0 / breadth
    strong, weak = (20.0 / 0.5 - 20.0 * soft) / rest, (20.0 / 1.5 - 20.0 * soft) / rest
    below = np.array([strong - 0.1, strong + 0.1, weak + 0.1, weak - 0.1])
    strata = (
        Stratum(name="soft", top=0.0, unit_weight=17.0, su_at_top=20.0),
        Stratum(name="other", top=-11.0, unit_weight=17.0, su_at_top=below),
    )
    block = make_block(strata=strata, aquifer=None, wall=replace(WALL, toe=-9.0), piles=PILES)
    told = [False, True, False, True]
    for member in MEMBERS:
        outside = MECHANISM.outcome(block, member).outside
        if member == "circle":
            assert EVEN not in outside
        else:
            np.testing.assert_array_equal(outside[EVEN], told)
    growing = Stratum(
        name="clay", top=-9.0, unit_weight=17.0, su_at_top=np.array([9.0, 8.0]), su_per_metre=3.0
    )
    block = make_block(strata=(replace(growing, name="over", top=0.0), growing), aquifer=None)
    np.testing.assert_array_equal(MECHANISM.outcome(block, "bearing").outside[EVEN], [False, True])


def test_a_longer_cut_may_be_the_safer_one(make_block: Maker) -> None:
    """A patch beside the cut is spread over its length: no direction of the length may be declared."""
    patch = EdgeLoad(name="crane", pressure=200.0, distance=1.0, width=4.0, length=5.0)
    block = make_block(length=np.array([20.0, 60.0]), edge_loads=(patch,))
    outcomes = [MECHANISM.outcome(b, "wide_cut") for b in (block, replace(block, edge_loads=()))]
    with_patch, without = (np.broadcast_to(o.resistance - o.action, 2) for o in outcomes)
    assert with_patch[1] > with_patch[0] + 1.0
    assert without[1] == without[0]
    assert "length" not in MECHANISM.monotone


def reasons(block: Block) -> dict[str, str | None]:
    return {member.name: member.not_applicable for member in MECHANISM.members(block)}


def test_the_forms_beyond_the_first_three_say_what_they_lack(make_block: Maker) -> None:
    assert reasons(make_block(wall=WALL, piles=PILES)) == dict.fromkeys(MEMBERS)
    plain = reasons(make_block())
    assert (
        plain["embedded_wall"] == "the adhesion of the clay on the wall is not stated (works.wall.adhesion)"
    )
    assert plain["circle"] is None
    assert plain["with_piles"] == "no tension piles stand in the ground at this stage"
    bare = reasons(make_block(wall=None))
    assert bare["embedded_wall"] == bare["circle"] == "there is no wall (works.wall)"
    short = reasons(make_block(wall=replace(WALL, toe=-9.0)))
    assert short["embedded_wall"] == short["circle"] == "the wall's toe does not lie below formation"
    deep = reasons(make_block(wall=replace(WALL, toe=-20.0)))
    assert deep["embedded_wall"] == deep["circle"]
    assert str(deep["circle"]).startswith("the wall's toe lies in or on sand, which is read drained")
    assert reasons(make_block(props=()))["circle"] == "no prop stands about which the wall could turn"
    buried = make_block(formation=-6.0, water_inside=-6.0)
    assert reasons(buried)["circle"] == "the lowest prop does not stand above formation"
    for found in (plain, bare, short, deep):
        assert [found[name] for name in MEMBERS[:3]] == [None] * 3


def test_a_member_without_what_it_needs_is_refused(make_block: Maker) -> None:
    for member in ("embedded_wall", "with_piles"):
        with pytest.raises(ValueError, match=f"no member '{member}' in this block"):
            MECHANISM.outcome(make_block(), member)
    with pytest.raises(ValueError, match="no member 'circle' in this block"):
        MECHANISM.outcome(make_block(props=()), "circle")


def test_bending_that_is_not_stated_is_told(make_block: Maker) -> None:
    notes = {
        m.name: m.note for m in MECHANISM.members(make_block(wall=replace(WALL, bending_resistance=None)))
    }
    assert "adhesion not capped by the wall's bending" in notes["embedded_wall"]
    assert "nothing counted for the wall's bending" in notes["circle"]
    stated = {m.name: m.note for m in MECHANISM.members(make_block(wall=WALL))}
    assert "bending" not in stated["embedded_wall"] + stated["circle"]


def random_rows(make_block: Maker, rows: int) -> tuple[Block, np.random.Generator]:
    rng = np.random.default_rng(42)
    clay = Stratum(
        name="clay",
        top=0.0,
        unit_weight=rng.uniform(16.0, 19.0, rows),
        su_at_top=rng.lognormal(np.log(16.0), 0.5, rows),
        su_per_metre=rng.uniform(0.0, 1.5, rows),
    )
    # Thin clay over rock-like ground in some rows: there side shear alone can carry the whole load.
    hard = Stratum(name="hard", top=rng.uniform(-16.0, -7.2, rows), unit_weight=20.0, friction_angle=40.0)
    block = make_block(
        strata=(clay, hard), formation=-7.0, water_inside=-7.0, width=18.0, props=(), aquifer=None
    )
    return block, rng


@pytest.mark.parametrize("member", ["wide_cut", "finite_cut"])
def test_side_shear_on_either_side_fails_the_same_rows(make_block: Maker, member: str) -> None:
    """The book takes side shear off the load; FS differs, the rows that fail do not."""
    rows = 200_000
    block, _ = random_rows(make_block, rows)
    outcome = MECHANISM.outcome(block, member)
    steps = {step.symbol: step.value for step in outcome.steps}
    side = steps["su_u H"] / steps["B_1"]
    resistance, action = outcome.resistance - side, outcome.action - side
    failed = outcome.resistance < outcome.action
    np.testing.assert_array_equal(failed, resistance < action)
    assert 0.05 < failed.mean() < 0.95
    assert np.count_nonzero(action <= 0.0) > 100, "in some rows the ground does not push at all"
    assert not np.any(failed[action <= 0.0])
    ours, books = outcome.resistance / outcome.action, resistance / np.where(action > 0.0, action, np.nan)
    apart = np.nanquantile(np.abs(books / ours - 1.0), 0.5)
    assert apart > 0.05, "the factors of safety differ"


def test_where_a_random_factor_sits_matters(make_block: Maker) -> None:
    """With a random model factor the two arrangements fail different rows: it stays on soil strength."""
    rows = 200_000
    block, rng = random_rows(make_block, rows)
    theta = np.exp(rng.normal(-0.011, 0.149, rows))
    outcome = MECHANISM.outcome(replace(block, model_factors={"base_heave/wide_cut": theta}), "wide_cut")
    plain = {step.symbol: step.value for step in outcome.steps}
    side = plain["su_u H"] / plain["B_1"]
    on_bearing_alone = theta * 5.7 * plain["su_b"] < outcome.action - side
    ours = outcome.resistance < outcome.action
    np.testing.assert_allclose(outcome.resistance, theta * (5.7 * plain["su_b"] + side), rtol=1e-12)
    assert np.count_nonzero(ours != on_bearing_alone) > 100
