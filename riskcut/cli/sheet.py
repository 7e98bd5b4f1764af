"""``riskcut sheet``: the hand calculation of a limit state, at the means and at its design point."""

from __future__ import annotations

from pathlib import Path

from riskcut.results import hand, reading, writing
from riskcut.results.errors import ResultsError
from riskcut.study.errors import near_matches


def sheets(results: Path, *, limit_state: str | None, section: str | None, stage: str | None) -> str:
    """Return the sheets asked for: of each governing limit state at its worst, or of the one that is named.

    Raises
    ------
    ResultsError
        Where a name is not in the results, or the limit state does not apply there.
    """
    tree = writing.read(results)
    if limit_state is not None:
        limit_state = _one_of(limit_state, reading.labels(tree, "limit_state"), "limit state")
    chosen = hand.worst_states(tree, limit_state)
    if limit_state is not None and not chosen:  # it applies nowhere: the sheet of anywhere says why
        chosen = [(reading.labels(tree, "section")[0], reading.labels(tree, "stage")[0], limit_state)]
    if section is not None:
        section = _one_of(section, reading.labels(tree, "section"), "section")
    if stage is not None:
        stage = _one_of(stage, reading.labels(tree, "stage"), "stage")
    made = [
        hand.sheet(
            tree,
            section=section or s,
            stage=stage or t,
            limit_state=name,
        )
        for s, t, name in chosen
    ]
    return f"\n\n{'-' * 100}\n\n".join(made)


def _one_of(given: str, known: list[str], what: str) -> str:
    """Return the one name that is given in full or by its ending."""
    ending = [name for name in known if name == given or name.endswith(f"/{given}")]
    if len(ending) == 1:
        return ending[0]
    hint = near_matches(given, known)
    raise ResultsError(f"given {given!r}; wanted a {what} of these results, {', '.join(known)}{hint}")
