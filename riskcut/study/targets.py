"""Target reliability indices: the user's own, or EN 1990 Table B2 by consequence class."""

from __future__ import annotations

from dataclasses import dataclass

from riskcut.study.schema import Target

EN_1990_TABLE_B2 = {
    ("CC1", "1 year"): 4.2,
    ("CC1", "50 years"): 3.3,
    ("CC2", "1 year"): 4.7,
    ("CC2", "50 years"): 3.8,
    ("CC3", "1 year"): 5.2,
    ("CC3", "50 years"): 4.3,
}
"""Ultimate limit states of one member; RC1, RC2, RC3 stand for CC1, CC2, CC3 (EN 1990:2002, Table B2)."""


@dataclass(frozen=True, slots=True)
class TargetIndex:
    """A target as a number and the words that say where it comes from."""

    beta: float
    source: str


def index_of(target: Target) -> TargetIndex:
    """Return the target reliability index of a target that :func:`fault_of` finds nothing wrong with."""
    period = target.period or "stage"
    if target.beta is not None:
        said = f"{target.source}, {period}" if target.source else f"the study's own, {period}"
        return TargetIndex(target.beta, said)
    beta = EN_1990_TABLE_B2[(str(target.consequence_class), period)]
    return TargetIndex(beta, f"EN 1990 Table B2, {target.consequence_class}, {period}, one member")


def fault_of(target: Target) -> tuple[str, str] | None:
    """Return what was given and what is wanted, None where the target stands."""
    if (target.beta is None) == (target.consequence_class is None):
        given = (
            "both beta and consequence_class"
            if target.beta is not None
            else "neither beta nor consequence_class"
        )
        return given, "one of the two"
    if target.period is not None and target.period not in ("stage", "1 year", "50 years"):
        return repr(target.period), "one of stage, 1 year, 50 years"
    if target.consequence_class is not None and target.period not in ("1 year", "50 years"):
        return (
            f"consequence_class with period {target.period or 'unstated'}",
            "period: 1 year or 50 years, as EN 1990 Table B2 has it",
        )
    return None
