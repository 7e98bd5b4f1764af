"""Sections laid over what all share, and the addresses that this gives."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from study_texts import CUTS, changed, faults, read

from riskcut.study.overlay import lay_over, origin_of, taken_from_nothing

ROOT = ("sections", "west")
BASE: dict[str, Any] = {
    "works": {
        "wall": {"toe": -12, "thickness": 0.8},
        "props": {"upper": {"level": 2, "resistance": {"mean": 5000, "cov": 0.1}}},
    },
    "stages": {"a": {"install": ["upper"], "lasts": "1 month"}},
}


def test_mappings_are_merged_key_by_key() -> None:
    tree, origin = lay_over(BASE, {"works": {"wall": {"toe": -14}}}, ROOT)
    assert tree["works"]["wall"] == {"toe": -14, "thickness": 0.8}
    assert tree["works"]["props"] == BASE["works"]["props"]
    assert origin == {("works", "wall", "toe"): (*ROOT, "works", "wall", "toe")}
    assert BASE["works"]["wall"]["toe"] == -12


def test_a_null_takes_an_entry_away() -> None:
    tree, origin = lay_over(BASE, {"works": {"props": {"upper": None}}}, ROOT)
    assert tree["works"]["props"] == {}
    assert origin == {}


def test_a_number_replaces_a_number_as_a_whole() -> None:
    over = {"works": {"props": {"upper": {"resistance": {"low": 4000, "high": 6000}}}}}
    tree, origin = lay_over(BASE, over, ROOT)
    assert tree["works"]["props"]["upper"]["resistance"] == {"low": 4000, "high": 6000}
    path = ("works", "props", "upper", "resistance")
    assert origin == {path: (*ROOT, *path)}
    assert origin_of((*path, "low"), origin) == (*ROOT, *path, "low")


def test_a_part_of_a_number_replaces_it_as_a_whole_too() -> None:
    tree, _ = lay_over(BASE, {"works": {"props": {"upper": {"resistance": {"cov": 0.2}}}}}, ROOT)
    assert tree["works"]["props"]["upper"]["resistance"] == {"cov": 0.2}


def test_a_list_replaces_a_list() -> None:
    tree, _ = lay_over(BASE, {"stages": {"a": {"install": "lower"}}}, ROOT)
    assert tree["stages"]["a"] == {"install": "lower", "lasts": "1 month"}


def test_a_new_entry_has_its_origin_in_the_section() -> None:
    tree, origin = lay_over(BASE, {"works": {"slab": {"thickness": 1}}}, ROOT)
    assert tree["works"]["slab"] == {"thickness": 1}
    assert origin_of(("works", "slab", "thickness"), origin) == (*ROOT, "works", "slab", "thickness")
    assert origin_of(("works", "wall", "toe"), origin) == ("works", "wall", "toe")


def test_a_mapping_does_not_hide_a_fault_of_what_all_share() -> None:
    tree, origin = lay_over({"works": "a box"}, {"works": {"wall": {"toe": -14}}}, ROOT)
    assert tree == {"works": "a box"}
    assert origin == {}


def test_what_is_taken_away_from_nothing() -> None:
    over = {"works": {"wall": {"toe": None, "teo": None}, "slab": None}, "loads": None, "water": {"x": None}}
    assert taken_from_nothing(BASE, over) == [("works", "wall", "teo"), ("works", "slab"), ("loads",)]


TREES = st.recursive(
    st.integers(), lambda inner: st.dictionaries(st.sampled_from("abcd"), inner, max_size=3), max_leaves=8
).filter(lambda tree: isinstance(tree, dict))


def _leaves(tree: Any, path: tuple[str, ...] = ()) -> dict[tuple[str, ...], Any]:
    if not isinstance(tree, dict):
        return {path: tree}
    return {p: v for key, value in tree.items() for p, v in _leaves(value, (*path, key)).items()}


@settings(deadline=None, max_examples=150)
@given(base=TREES, over=TREES)
def test_every_entry_of_a_section_stands_where_its_origin_says(
    base: dict[str, Any], over: dict[str, Any]
) -> None:
    file = {**base, "sections": {"west": over}}
    tree, origin = lay_over(base, over, ROOT)
    for path, value in _leaves(tree).items():
        entry: Any = file
        for key in origin_of(path, origin):
            entry = entry[key]
        assert entry == value
    for path, value in _leaves(over).items():
        entry = tree
        for key in path:
            entry = entry[key]
        assert entry == value


def test_each_section_of_a_study_is_what_it_changes() -> None:
    file = read(CUTS)
    west, east, portal = file.sections
    assert [section.name for section in file.sections] == ["west", "east", "portal"]
    assert west.study.ground == portal.study.ground
    east_su = east.study.ground.strata["clay"].su
    assert east_su is not None
    assert (east_su.at_top.value, east_su.at_top.sd) == pytest.approx((40, 12))
    assert portal.study.works.wall is not None
    assert portal.study.works.wall.toe.value == -2
    assert portal.study.works.wall.thickness.value == 0.6
    assert portal.address(("works", "wall", "toe")) == "sections.portal.works.wall.toe"
    assert portal.address(("works", "wall", "thickness")) == "works.wall.thickness"
    assert west.address(("works", "wall", "toe")) == "works.wall.toe"
    assert east.address(("ground", "strata", "clay", "su", "at_top")) == "sections.east.ground.strata.clay.su"
    assert file.source.line(portal.path(("works", "wall", "toe"))) == 1 + CUTS.splitlines().index(
        "      wall: {toe: -2.0}"
    )


def test_a_section_may_leave_out_a_stage_and_what_may_happen_in_it() -> None:
    event = (
        "events:\n  pump_loss:\n    stages: [first, second]\n    water: {table: 11}\n    probability: 0.01\n"
        "    basis: judgement\n    source: standby\n"
    )
    text = changed(
        CUTS,
        ("stages:\n  first", f"{event}\nstages:\n  first"),
        ("      second: {dig_to: 4.5}", "      second: null"),
    )
    file = read(text)
    assert list(file.sections[2].study.stages) == ["first"]
    assert file.sections[2].study.events["pump_loss"].stages == ["first"]
    assert file.sections[0].study.events["pump_loss"].stages == ["first", "second"]
    assert file.stages == ("first", "second")


def test_a_section_may_hold_what_the_others_lack() -> None:
    wall = "  wall:\n    toe: 0.0\n    thickness: 0.6\n"
    text = changed(CUTS, (wall, ""), ("      wall: {toe: -2.0}", "      wall: {toe: -2.0, thickness: 1.0}"))
    file = read(text)
    assert [section.study.works.wall is not None for section in file.sections] == [False, False, True]


def test_sections_may_each_have_stages_of_their_own() -> None:
    stages = CUTS[CUTS.index("stages:\n  first") : CUTS.index("sections:\n")]
    own = "    stages:\n      {}:\n        dig_to: 9.0\n        install: strut\n"
    text = changed(
        CUTS,
        (stages, ""),
        ("  west: {}", "  west:\n" + own.format("dig")),
        ("  portal:\n", "  portal:\n" + own.format("cut")),
        ("          su: {mean: 40, cov: 0.3, dist: lognormal}\n", "          su: 40\n" + own.format("dig")),
        ("    stages:\n      second: {dig_to: 4.5}\n", ""),
    )
    file = read(text)
    assert [list(section.study.stages) for section in file.sections] == [["dig"], ["dig"], ["cut"]]
    assert file.stages == ("dig", "cut")


def test_the_same_fault_of_every_section_is_told_once_and_of_some_with_their_names() -> None:
    shared = faults(
        changed(CUTS, ("    toe: 0.0", "    toe: 7.0"), ("      wall: {toe: -2.0}", "      cut: {width: 11}"))
    )
    assert [fault[1:3] for fault in shared] == [("works.wall.toe", "7, not below the deepest dig (6)")]
    some = faults(changed(CUTS, ("    toe: 0.0", "    toe: 7.0")))
    assert [fault[1:3] for fault in some] == [
        ("works.wall.toe", "7, not below the deepest dig (6) (in sections west, east)")
    ]
