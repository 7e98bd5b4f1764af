"""What a run prints at its end, read from the results tree alone: the answer, what decides it, what is missing."""

from __future__ import annotations

import math
import textwrap

import xarray as xr

from riskcut.results import reading
from riskcut.results.estimate import Estimate
from riskcut.results.status import Status
from riskcut.results.wording import CAUTION, factor_of_safety, in_words, limit_state_label, quantity, share

VERDICTS = {"meets": "meets", "short": "SHORT", "undecided": "open", "no target": "-"}
SAFE_SIDE = "(left out: on the safe side)"
"""Ends what a mechanism leaves out that could only help."""
WIDTH = 110
LEAST_SHARE = 0.01
"""Of a stage's failures, from which a limit state is told."""
TELLING = 0.05
"""Importance from which an input is told at a design point."""
SHOWN_INPUTS = 4
DECISIVE_SHARE = 0.05
"""A share of rows outside a range of use from which the reader is told."""


def summary(tree: xr.DataTree) -> str:
    """Return the text of a run: a headline, the table, the systems, a sentence a mechanism, what is not covered.

    Parameters
    ----------
    tree
        The results.
    """
    parts = [
        _headline(tree),
        "\n".join([_table(tree), *_cannot_fail(tree)]),
        "\n".join(_systems(tree)),
        "\n".join(_sentences(tree)),
        "\n".join(_likeliest(tree)),
        "\n".join(_events(tree)),
        "\n".join(_beside(tree)),
        "\n".join(_notes(tree)),
        *_not_covered(tree),
        textwrap.fill(CAUTION, WIDTH),
    ]
    return "\n\n".join(part for part in parts if part)


def worst_rows(tree: xr.DataTree) -> list[Estimate]:
    """Return the rows of the table: each governing limit state that can fail, at its worst section and stage."""
    rows = []
    for limit_state in reading.labels(tree, "limit_state"):
        governing = [e for e in reading.estimates(tree, limit_state=limit_state) if reading.governs(tree, e)]
        if (worst := reading.worst(governing)) is not None and worst.status is not Status.CANNOT_FAIL:
            rows.append(worst)
    return sorted(rows, key=lambda e: e.severity, reverse=True)


def _cannot_fail(tree: xr.DataTree) -> list[str]:
    """Tell the governing limit states into which nothing uncertain enters, and which hold everywhere."""
    safe = []
    for limit_state in reading.labels(tree, "limit_state"):
        governing = [e for e in reading.estimates(tree, limit_state=limit_state) if reading.governs(tree, e)]
        if (worst := reading.worst(governing)) is not None and worst.status is Status.CANNOT_FAIL:
            safe.append(
                f"{limit_state_label(limit_state)} (at the least {factor_of_safety(worst.factor_of_safety)})"
            )
    return [f"Cannot fail, nothing uncertain enters: {', '.join(safe)}."] if safe else []


def _headline(tree: xr.DataTree) -> str:
    reliability = tree["reliability"]
    sections, stages = len(reading.labels(tree, "section")), len(reading.labels(tree, "stage"))
    applying = int((reliability["status"] != Status.NOT_APPLICABLE).sum())
    counted = [
        _count(sections, "section"),
        _count(stages, "stage"),
        _count(applying, "limit state"),
        _count(len(reading.labels(tree, "variable")), "uncertain input"),
    ]
    rows, aimed = int(reliability["rows"]), int(reliability["aimed_rows"])
    drawn = f"{rows:,} rows" + (f" and {aimed:,} aimed at the failures" if aimed else "")
    method = f"{reliability['method'].item()}: {drawn}, seed {tree.attrs['seed']}"
    return f"{tree.attrs['title']}\n{', '.join(counted)}\n{method}"


def _count(number: int, name: str) -> str:
    return f"{number} {name}{'' if number == 1 else 's'}"


def _table(tree: xr.DataTree) -> str:
    many = len(reading.labels(tree, "section")) > 1
    head = ["at its worst", *(["section"] if many else []), "stage", "Pf (95 % interval)", "beta", "target"]
    head += ["FS at means", ""]
    lines = [head]
    for row in worst_rows(tree):
        lines.append(
            [
                limit_state_label(row.limit_state),
                *([row.section] if many else []),
                row.stage,
                row.probability_text,
                row.index_text,
                "-" if math.isnan(row.target) else f"{row.target:.1f}",
                factor_of_safety(row.factor_of_safety),
                VERDICTS[row.verdict],
            ]
        )
    widths = [max(len(line[i]) for line in lines) for i in range(len(head))]
    return "\n".join(
        "  ".join(f"{c:<{w}}" for c, w in zip(line, widths, strict=True)).rstrip() for line in lines
    )


def _systems(tree: xr.DataTree) -> list[str]:
    """Tell the systems: the worst stage, each section, the whole."""
    lines = ["As systems (any governing limit state; no code sets a target for these):"]
    sections = reading.labels(tree, "section")
    stages = [
        reading.stage_system(tree, section, stage)
        for section in sections
        for stage in reading.labels(tree, "stage")
    ]
    worst = reading.worst([e for e in stages if e.status is not Status.NOT_APPLICABLE])
    if worst is not None:
        of = f" of {worst.section}" if len(sections) > 1 else ""
        lines.append(f"  worst stage, {worst.stage}{of}: {worst.probability_text}{_shares(tree, worst)}")
    if len(sections) == 1:
        whole = reading.section_system(tree, sections[0])
        lines.append(f"  all stages: {whole.probability_text}{_first(tree, whole)}")
        return lines
    by_section = [reading.section_system(tree, section) for section in sections]
    if (worst := reading.worst(by_section)) is not None:
        text = f"{worst.probability_text}{_first(tree, worst)}"
        lines.append(f"  worst section over all its stages, {worst.section}: {text}")
    for dependence in reading.labels(tree, "dependence"):
        lines.append(f"  the whole, {dependence}: {reading.overall(tree, dependence).probability_text}")
    return lines


def _first(tree: xr.DataTree, section: Estimate) -> str:
    """Tell at which stage a section would most likely fail first."""
    first = reading.first_failures(tree, section.section)
    if not first or not 0.0 < section.failure_probability < 1.0:
        return ""
    stage = max(first, key=lambda name: first[name])
    return f"; in {share(min(first[stage] / section.failure_probability, 1.0))} it fails first at {stage}"


def _shares(tree: xr.DataTree, system: Estimate) -> str:
    """Tell in what share of a stage's failures each limit state fails; several may fail together."""
    if not 0.0 < system.failure_probability < 1.0:
        return ""
    found = [
        (min(e.failure_probability / system.failure_probability, 1.0), e)
        for e in reading.estimates(tree, section=system.section, stage=system.stage)
        if reading.governs(tree, e) and e.failure_probability > 0.0
    ]
    told = sorted((pair for pair in found if pair[0] >= LEAST_SHARE), key=lambda pair: -pair[0])
    if len(found) < 2 or not told:
        return ""
    return "; in " + ", in ".join(f"{share(part)} {limit_state_label(e.limit_state)}" for part, e in told)


def _sampled(tree: xr.DataTree) -> list[Estimate]:
    """Return the rows of the table but for those too rare to be sampled: what decides them decides nothing else.

    All of them where there are no others.
    """
    rows = worst_rows(tree)
    return [row for row in rows if row.status is not Status.FIRST_ORDER_ONLY] or rows


def _sentences(tree: xr.DataTree) -> list[str]:
    """Say for each mechanism at its worst what decides its margin."""
    sentences = []
    told = set()
    for row in _sampled(tree):
        mechanism = row.limit_state.partition("/")[0]
        if mechanism not in told and (sentence := reading.leading_inputs(tree, row)):
            told.add(mechanism)
            sentences.append(sentence)
    return sentences


def _likeliest(tree: xr.DataTree) -> list[str]:
    """Tell, for each mechanism at its worst, where it fails most easily."""
    lines = []
    told = set()
    for row in _sampled(tree):
        mechanism = row.limit_state.partition("/")[0]
        inputs = [one for one in reading.likeliest_failure(tree, row) if one.importance >= TELLING]
        if mechanism in told or not inputs:
            continue
        told.add(mechanism)
        values = ", ".join(
            f"{one.variable} {quantity(one.value, one.unit)} (mean {quantity(one.mean)})"
            for one in inputs[:SHOWN_INPUTS]
        )
        text = f"{limit_state_label(row.limit_state)} at {row.stage}: {values}"
        lines.append(textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="    "))
    return ["The likeliest way to fail (design point, by importance):", *lines] if lines else []


def _events(tree: xr.DataTree) -> list[str]:
    """Tell what each event adds where it adds most, and what its probability is."""
    events = [name for name in reading.labels(tree, "scenario") if name != reading.AS_PLANNED]
    governing = [row for row in reading.estimates(tree) if reading.governs(tree, row)]
    others = [row for row in reading.estimates(tree) if not reading.governs(tree, row)]
    lines = []
    for event in events:
        # What enters no system is told of where the event touches nothing that does.
        if found := _added(tree, governing, event) or _added(tree, others, event):
            most = max(found, key=lambda c: (c.added * c.of.failure_probability, c.share))
            where = f"{limit_state_label(most.of.limit_state)} at {most.of.stage}"
            lines.append(
                f"  {in_words(event)} (probability {most.probability:.2g} in the stage): given it, {where} fails with"
                f" {most.text}; that is {share(most.share)} of its Pf"
            )
    return ["Events, in the probabilities above:", *lines] if lines else []


def _added(tree: xr.DataTree, rows: list[Estimate], event: str) -> list[reading.Contribution]:
    """Return what an event brings to those estimates that it changes."""
    found = (reading.contribution(tree, row, event) for row in rows)
    return [c for c in found if c is not None and c.added != 0.0]


def _beside(tree: xr.DataTree) -> list[str]:
    """Tell what is shown and enters no system, and where that is likelier than the model that governs."""
    lines, any_likelier = [], False
    for limit_state in reading.labels(tree, "limit_state"):
        shown = [e for e in reading.estimates(tree, limit_state=limit_state) if not reading.governs(tree, e)]
        if (worst := reading.worst(shown)) is None:
            continue
        note = reading.governing_note(tree, worst)
        likelier = worst.failure_probability > _governing(tree, worst)
        any_likelier |= likelier
        verdict = VERDICTS[worst.verdict] + (", likelier than what governs" if likelier else "")
        where = f"{limit_state_label(limit_state)} at {worst.stage}"
        text = f"{where}: {worst.probability_text}, beta {worst.index_text}, {verdict}" + (
            f"; {note}" if note else ""
        )
        lines.append(textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="    "))
    if any_likelier:
        lines.append(
            "  Where a model is likelier to fail than the one that governs, the choice of model decides: see their"
            " ranges of use."
        )
    return ["Shown beside, not in the systems:", *lines] if lines else []


def _governing(tree: xr.DataTree, of: Estimate) -> float:
    """Return the failure probability of the model that governs the event of one that is shown, NaN without one."""
    mechanism = of.limit_state.partition("/")[0]
    models = reading.estimates(tree, section=of.section, stage=of.stage, mechanism=mechanism)
    return max((e.failure_probability for e in models if reading.governs(tree, e)), default=math.nan)


def _not_covered(tree: xr.DataTree) -> list[str]:
    """Tell what the run left out: what could make matters worse, then what could only help."""
    left_out = str(tree.attrs["not_covered"]).splitlines()
    helpful = [limit.removesuffix(SAFE_SIDE).strip() for limit in left_out if limit.endswith(SAFE_SIDE)]
    harmful = [limit for limit in left_out if not limit.endswith(SAFE_SIDE)]
    named = (("Not covered", harmful), ("Left out, on the safe side", helpful))
    return [
        textwrap.fill(f"{name}: {'; '.join(limits)}.", WIDTH, subsequent_indent="  ")
        for name, limits in named
        if limits
    ]


def _notes(tree: xr.DataTree) -> list[str]:
    """Tell what a reader of the table must know: rows outside a range of use, impossible rows, bare judgement."""
    notes = []
    for row in worst_rows(tree):
        outside = reading.outside_range(tree, row)
        if outside[0] >= DECISIVE_SHARE:
            notes.append(
                f"Outside its range of use: {limit_state_label(row.limit_state)} at {row.stage}"
                f" in {share(outside[0])} of rows; left: {outside[1]}."
            )
        if row.status is Status.UNTRUSTED:
            notes.append(
                f"Not to be trusted: {limit_state_label(row.limit_state)} at {row.stage}: {row.reason}."
            )
    impossible = int(tree["reliability"]["impossible_rows"].max())
    if impossible:
        notes.append(
            f"Up to {impossible:,} rows of a stage have an impossible geometry; none is called safe."
        )
    unstated = [
        name
        for name, basis in zip(
            reading.labels(tree, "variable"), tree["inputs"]["basis"].to_numpy(), strict=True
        )
        if basis == "not stated"
    ]
    if unstated:
        notes.append(f"Without a stated basis: {', '.join(unstated)}.")
    return notes
