"""One mistake is told once, at its own place, and does not hide another or bring one with it."""

from __future__ import annotations

import pytest
from study_texts import BOX, CUTS, changed, faults, read

SU = "su: {mean: 40, cov: 0.3, dist: lognormal}"


def told(text: str) -> list[tuple[str, str]]:
    """Return path and given of each fault."""
    return [fault[1:3] for fault in faults(text)]


def depending(text: str, one: str, other: str) -> str:
    return f"{text}\ndependence:\n  - between: [{one}, {other}]\n    correlation: 0.3\n"


@pytest.mark.parametrize(
    ("wrong", "fault"),
    [
        (
            "su: {mean: 40, cov: 0.3, dist: lognormall}",
            ("sections.east.ground.strata.clay.su.dist", "'lognormall'"),
        ),
        ("su: a bit", ("sections.east.ground.strata.clay.su", "'a bit'")),
    ],
)
def test_a_dependence_on_a_number_of_a_section_that_is_at_fault(wrong: str, fault: tuple[str, str]) -> None:
    names = ("sections.east.ground.strata.clay.su", "works.props.strut.resistance")
    assert told(depending(changed(CUTS, (SU, wrong)), *names)) == [fault]
    assert told(depending(CUTS, *names)) == []


@pytest.mark.parametrize("name", ["unit_weight", "unit_wieght"])
def test_a_dependence_on_a_number_whose_key_is_misspelt(name: str) -> None:
    """It may be named as it should be or as it stands in the file: it is the key that is told."""
    text = changed(
        BOX,
        ("unit_weight: {mean: 17.5,", "unit_wieght: {mean: 17.5,"),
        ("ground.strata.clay.unit_weight]", f"ground.strata.clay.{name}]"),
    )
    assert told(text) == [("ground.strata.clay.unit_wieght", "the key unit_wieght")]


@pytest.mark.parametrize("name", ["cohesion", "cohesoin"])
def test_a_dependence_on_a_number_of_a_section_whose_key_is_misspelt(name: str) -> None:
    sand = "\n        sand: {cohesoin: {mean: 5, sd: 1}}"
    text = changed(CUTS, (f"          {SU}", f"          {SU}{sand}"))
    text = depending(text, f"sections.east.ground.strata.sand.{name}", "works.props.strut.resistance")
    assert told(text) == [("sections.east.ground.strata.sand.cohesoin", "the key cohesoin")]


def test_a_dependence_on_nothing_is_told_beside_another_fault() -> None:
    text = depending(changed(CUTS, (SU, "su: a bit")), "works.wall.nothing", "works.props.strut.resistance")
    assert told(text) == [
        ("sections.east.ground.strata.clay.su", "'a bit'"),
        ("dependence.0.between", "'works.wall.nothing'"),
    ]


def test_a_fault_that_all_share_is_told_in_the_words_of_what_they_share() -> None:
    """The first section digs deeper, but the toe is wrong without that."""
    text = changed(
        CUTS,
        ("    toe: 0.0", "    toe: 7.0"),
        ("  west: {}", "  west: {stages: {second: {dig_to: 5.0}}}"),
        ("      wall: {toe: -2.0}", "      cut: {width: 11}"),
    )
    assert told(text) == [("works.wall.toe", "7, not below the deepest dig (6)")]


def test_a_fault_of_one_section_is_told_at_what_it_changes() -> None:
    text = changed(CUTS, ("      wall: {toe: -2.0}", "      wall: {toe: 5.0}"))
    (fault,) = faults(text)
    assert fault[1:3] == ("sections.portal.works.wall.toe", "5, not below the deepest dig (4.5)")
    assert text.splitlines()[fault[0] - 1] == "      wall: {toe: 5.0}"


def test_what_is_wrong_within_misspelt_sections_is_told_too() -> None:
    text = changed(
        CUTS, ("\nsections:", "\nsectoins:"), ("      wall: {toe: -2.0}", "      wall: {toe: deep}")
    )
    assert told(text) == [
        ("sectoins", "the key sectoins"),
        ("sectoins.portal.works.wall.toe", "'deep'"),
    ]


@pytest.mark.parametrize("text", ["&a {b: *a}\n", "&r\na: 1\nb: *r\n", "&r\na:\n  - b: {c: *r}\n"])
def test_an_alias_that_holds_itself_is_told_as_that(text: str) -> None:
    assert told(text) == [("", "an alias that holds itself")]


@pytest.mark.parametrize("period", ["0 years", "-1 year", "0 months", "1", "a year", "1 m"])
def test_a_period_is_a_time_that_passes(period: str) -> None:
    text = changed(BOX, ("sd: 0.2, period: 1 year,", f"sd: 0.2, period: {period},"))
    ((line, path, given, wanted),) = faults(text)
    assert (path, given) == ("water.aquifer.head.period", "1" if period == "1" else repr(period))
    assert wanted.startswith('a duration with its unit, such as "1 year"')
    assert "head:" in text.splitlines()[line - 1]


@pytest.mark.parametrize("lasts", ["0 months", "-1 month", "1e9 years", "2"])
def test_a_stage_lasts_a_time_that_passes(lasts: str) -> None:
    assert [path for path, _ in told(changed(BOX, ("    lasts: 2 weeks", f"    lasts: {lasts}")))] == [
        "stages.frame_a.lasts"
    ]


TABLE = "    water: {drawdown: 0, table: {dist: gumbel, mean: 2.5, sd: 0.2, period: 1 year}}"


def test_only_the_stages_in_which_a_maximum_acts_must_say_how_long_they_last() -> None:
    head = ("head: {dist: gumbel, mean: 1.5, sd: 0.2, period: 1 year, shared: {sd: 0.05}}", "head: 1.5")
    late = changed(
        BOX, head, ("    water: {drawdown: 0}", TABLE), ("    lasts: 1 month\n  frame_a", "  frame_a")
    )
    assert told(late) == []
    assert read(late).sections[0].study.stages["dig_a"].lasts is None
    gone = changed(BOX, head, ("    water: {drawdown: 0}", TABLE), ("    lasts: 50 years\n", ""))
    ((path, given),) = told(gone)
    assert path == "stages.service.water.table.period"
    assert given == "a maximum over 1 year, for stages that do not say how long they last (service)"


def test_a_maximum_that_a_later_stage_replaces_acts_until_there() -> None:
    own = "    water: {table: {dist: gumbel, mean: 2.5, sd: 0.2, period: 1 year}}\n"
    head = ("head: {dist: gumbel, mean: 1.5, sd: 0.2, period: 1 year, shared: {sd: 0.05}}", "head: 1.5")
    text = changed(
        BOX,
        head,
        ("    install: top_frame\n", f"    install: top_frame\n{own}"),
        ("    cast: slab\n    lasts: 1 month\n", "    cast: slab\n    water: {table: 2}\n"),
    )
    assert told(text) == []
    ((path, given),) = told(changed(text, ("    lasts: 6 weeks\n", "")))
    assert (path, given[-7:]) == ("stages.frame_a.water.table.period", "(dig_c)")


@pytest.mark.parametrize(
    ("level", "fault"),
    [
        (4.5, []),
        (4.0, [("stages.frame_a.install", "top_frame at 4, in ground that is not dug yet (4)")]),
        (3.0, [("stages.frame_a.install", "top_frame at 3, in ground that is not dug yet (4)")]),
    ],
)
def test_before_any_dig_a_prop_stands_above_the_ground_only(
    level: float, fault: list[tuple[str, str]]
) -> None:
    dig_a = "  dig_a:\n    dig_to: 2.2\n    lasts: 1 month\n"
    assert told(changed(BOX, (dig_a, ""), ("      level: 3.0", f"      level: {level}"))) == fault
