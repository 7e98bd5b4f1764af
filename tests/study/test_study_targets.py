"""Target reliability indices."""

from __future__ import annotations

import pytest
from study_texts import BOX, changed, compiled, template

from riskcut.study.schema import Target
from riskcut.study.targets import EN_1990_TABLE_B2, fault_of, index_of


@pytest.mark.parametrize(
    ("consequence_class", "year", "fifty_years"),
    [("CC1", 4.2, 3.3), ("CC2", 4.7, 3.8), ("CC3", 5.2, 4.3)],
)
def test_en_1990_table_b2(consequence_class: str, year: float, fifty_years: float) -> None:
    """EN 1990:2002, Table B2, ultimate limit states: RC1 to RC3, reference periods of 1 and 50 years."""
    for period, beta in (("1 year", year), ("50 years", fifty_years)):
        target = Target.model_validate({"consequence_class": consequence_class, "period": period})
        assert fault_of(target) is None
        assert index_of(target).beta == beta
        assert index_of(target).source == f"EN 1990 Table B2, {consequence_class}, {period}, one member"


def test_the_table_holds_nothing_else() -> None:
    assert len(EN_1990_TABLE_B2) == 6


def test_a_target_of_the_study_itself() -> None:
    target = Target.model_validate({"beta": 3, "source": "the owner", "period": "1 year"})
    assert (index_of(target).beta, index_of(target).source) == (3.0, "the owner, 1 year")
    assert index_of(Target.model_validate({"beta": "2.5"})).source == "the study's own, stage"


@pytest.mark.parametrize(
    ("stated", "given"),
    [
        ({}, "neither beta nor consequence_class"),
        ({"beta": 3.3, "consequence_class": "CC1", "period": "1 year"}, "both beta and consequence_class"),
        ({"consequence_class": "CC1"}, "consequence_class with period unstated"),
        ({"consequence_class": "CC1", "period": "stage"}, "consequence_class with period stage"),
    ],
)
def test_a_target_at_fault(stated: dict[str, object], given: str) -> None:
    fault = fault_of(Target.model_validate(stated))
    assert fault is not None
    assert fault[0] == given
    assert fault[1]


def test_a_stage_takes_its_own_target_before_that_of_its_phase() -> None:
    study = compiled(changed(BOX, ("    cast: slab\n", "    cast: slab\n    target: {beta: 2.3}\n")))
    assert template(study, "dig_a").target.beta == 3.1
    assert template(study, "base").target.beta == 2.3
    assert template(study, "service").target.beta == 3.8
    assert template(study, "service").phase == "permanent"
