"""Names that the writer chooses: those that look like words of the study file, and those that are taken."""

from __future__ import annotations

import pytest
from study_texts import BOX, CUTS, at_means, changed, compiled, faults, keys, read

WORDS = ["low", "high", "mean", "sd", "cov", "dist"]
"""Keys of an uncertain number; ``low`` and ``high`` are good names for two levels of props."""


def renamed(text: str, old: str, new: str) -> str:
    assert old in text
    return text.replace(old, new)


@pytest.mark.parametrize("name", WORDS)
@pytest.mark.parametrize("old", ["strut", "sand", "topsoil", "second"])
def test_a_section_is_laid_over_entries_of_any_name(old: str, name: str) -> None:
    """The blocks are those of the study with the plain name, each section keeping what it does not change."""
    over = {
        "strut": "      props: {strut: {spacing: 3}}",
        "sand": "    ground: {strata: {sand: {unit_weight: 21}}}",
        "topsoil": "    ground: {strata: {topsoil: {unit_weight: 15, top: 12.5}}}",
        "second": "    water: {table: 9.5}",
    }[old]
    plain = changed(CUTS, ("      wall: {toe: -2.0}", f"      wall: {{toe: -2.0}}\n{over}"))
    expected, got = compiled(plain), compiled(renamed(plain, old, name))
    assert [column.quantity for column in got.columns] == [column.quantity for column in expected.columns]
    assert len(got.templates) == 6
    for one, other in zip(expected.templates, got.templates, strict=True):
        block, same = one.fill(expected.means), other.fill(got.means)
        assert repr(same) == repr(block).replace(f"'{old}'", f"'{name}'")


def test_a_section_changes_one_of_two_props_and_keeps_the_other() -> None:
    low = "    low: {level: 7.5, spacing: 5, made: steel, resistance: 2500}\n"
    text = changed(
        CUTS,
        ("    strut:\n", f"{low}    high:\n"),
        ("    install: strut\n", "    install: high\n"),
        ("    dig_to: 6.0\n", "    dig_to: 6.0\n    install: low\n"),
        ("      wall: {toe: -2.0}", "      wall: {toe: -2.0}\n      props: {low: {spacing: 2.5}}"),
    )
    study = compiled(text)
    spacings = {
        s: [p.spacing for p in at_means(study, "second", s).props] for s in ("west", "east", "portal")
    }
    assert spacings == {"west": [4.0, 5.0], "east": [4.0, 5.0], "portal": [4.0, 2.5]}
    assert study.file.sections[2].address(("works", "props", "low", "spacing")) == (
        "sections.portal.works.props.low.spacing"
    )


@pytest.mark.parametrize("name", ["low", "mean"])
def test_a_misspelt_key_beside_such_a_name_is_still_read_as_the_key_meant(name: str) -> None:
    text = changed(renamed(CUTS, "strut", name), ("      spacing: 4", "      spacng: 4"))
    ((line, path, told, wanted),) = faults(text)
    assert (path, told) == (f"works.props.{name}.spacng", "the key spacng")
    assert wanted.endswith("did you mean spacing?")
    assert text.splitlines()[line - 1] == "      spacng: 4"


def test_an_uncertain_number_is_still_replaced_as_a_whole() -> None:
    text = changed(CUTS, ("su: {mean: 40, cov: 0.3, dist: lognormal}", "su: {low: 30, high: 50}"))
    su = read(text).sections[1].study.ground.strata["clay"].su
    assert su is not None
    assert su.at_top.parameters == {"low": 30.0, "high": 50.0}


def test_a_prop_may_not_be_called_as_the_piles_are() -> None:
    """``install: tension_piles`` would install the piles, and the prop would never stand."""
    text = changed(
        BOX,
        ("    top_frame:\n      level", "    tension_piles:\n      level"),
        ("  frame_a:\n    install: top_frame\n", "  frame_a:\n"),
    )
    assert [fault[1:3] for fault in faults(text)] == [
        ("works.props.tension_piles", "the name 'tension_piles' for a prop")
    ]
    alone = changed(
        CUTS, ("    strut:\n", "    tension_piles:\n"), ("install: strut", "install: tension_piles")
    )
    assert [fault[1:3] for fault in faults(alone)] == [
        ("works.props.tension_piles", "the name 'tension_piles' for a prop")
    ]


@pytest.mark.parametrize("name", ["Clay", "2nd", "a b", "a-b", "_a", "a.b", "été", "'null'", "'true'"])
def test_a_name_is_of_small_letters_digits_and_underscores(name: str) -> None:
    good = name in ("'null'", "'true'")
    told = faults(changed(CUTS, ("    topsoil:", f"    {name}:")))
    assert [fault[3] for fault in told] == (
        [] if good else ["a name of small letters, digits and underscores that begins with a letter"]
    )
    if not good:
        assert [fault[:2] for fault in told] == [(7, f"ground.strata.{name}")]


def test_a_section_may_have_the_name_of_a_stage_and_of_a_stratum() -> None:
    study = compiled(CUTS.replace("  west: {}", "  second: {}").replace("  portal:", "  clay:"))
    assert [(t.section, t.stage) for t in study.templates[:2]] == [("second", "first"), ("second", "second")]
    assert keys(study, "ground.strata.clay.su") == [("second", ""), ("clay", "")]
