"""What a run prints of models shown beside, of events and of what is too rare to matter; held against the arrays."""

from __future__ import annotations

import re

from small_studies import HEAVE, PLUG

from riskcut.results import reading
from riskcut.results.names import TABLE
from riskcut.results.status import Status
from riskcut.results.summary import summary

TWO_EVENTS = """
events:
  wells_lost: {stages: [dig_1], water: {drawdown: 0}, probability: 1.0e-5, basis: judgement, source: test}
  wells_weak: {stages: [dig_1], water: {drawdown: 0.5}, probability: 0.5, basis: judgement, source: test}
"""


def paragraph(text: str, head: str) -> str:
    (found,) = [part for part in text.split("\n\n") if part.startswith(head)]
    return re.sub(r"\n {4}", " ", found)


def test_a_model_likelier_than_the_one_that_governs_is_called_so(run):
    # Nc of the deep cut is 1.5 x 1.1 times 5; Terzaghi's form has 5.7 and the side's shear: far from the same.
    tree = run(HEAVE, ("cov: 0.25", "cov: 0.4"))
    told = paragraph(summary(tree), "Shown beside")
    p = {e.limit_state: e.failure_probability for e in reading.estimates(tree, mechanism="base_heave")}
    governing = p["base_heave/bearing"]
    assert 0.0 < governing < 1.0
    likelier = {name for name in p if p[name] > governing}
    for name in likelier | {"base_heave/wide_cut", "base_heave/finite_cut"}:
        member = name.partition("/")[2].replace("_", " ")
        (line,) = [one for one in told.splitlines() if one.startswith(f"  base heave, {member} at")]
        assert ("likelier than what governs" in line) == (name in likelier), line
        assert "shown beside bearing, which governs" in line
    assert ("the choice of model decides" in told) == bool(likelier)
    other = run(
        HEAVE,
        ("cov: 0.25", "cov: 0.4"),
        ("title", "models: {base_heave: {governing: finite_cut}}\ntitle"),
    )
    swapped = paragraph(summary(other), "Shown beside")
    (bearing,) = [one for one in swapped.splitlines() if one.startswith("  base heave, bearing at")]
    assert ("likelier" in bearing) == (governing > p["base_heave/finite_cut"])
    assert ("likelier" in bearing) != ("base_heave/finite_cut" in likelier)


def test_why_a_limit_state_governs_is_in_the_results(run):
    tree = run(HEAVE)
    assert TABLE["reliability"]["governing_note"].dims == TABLE["reliability"]["governing"].dims
    notes = {e.limit_state: reading.governing_note(tree, e) for e in reading.estimates(tree)}
    assert notes["base_heave/bearing"] == "governs by range of use: H/B 2.00 is 1 or more"
    assert notes["base_heave/wide_cut"] == "shown beside bearing, which governs"
    assert {e.reason for e in reading.estimates(tree) if e.status is Status.COMPUTED} == {""}


def test_an_event_is_told_where_it_adds_most(run):
    tree = run(PLUG + TWO_EVENTS, ("dig_to: -10", "dig_to: -10, water: {drawdown: 1.2}"))
    told = paragraph(summary(tree), "Events")
    for event in ("wells lost", "wells weak"):
        (line,) = [one for one in told.splitlines() if one.startswith(f"  {event}")]
        added = {
            row.limit_state: c.added * row.failure_probability
            for row in reading.estimates(tree)
            if (c := reading.contribution(tree, row, event.replace(" ", "_"))) is not None
        }
        most = max(added, key=lambda name: added[name])
        assert most.replace("/", ", ").replace("_", " ") in line


def test_what_is_too_rare_to_be_sampled_has_no_design_point_printed(run):
    # The plug's head is 20 standard deviations from failing; heave is not.
    text = summary(
        run(
            PLUG,
            ("su: 400", "su: {dist: lognormal, mean: 60, cov: 0.3}"),
            ("mean: -2, sd: 0.5", "mean: -8, sd: 0.3"),
        )
    )
    table, likeliest = paragraph(text, "at its worst"), paragraph(text, "The likeliest way to fail")
    assert "plug uplift" in table
    assert "base heave" in likeliest
    assert "plug uplift" not in likeliest
