"""``riskcut run --dry-run``: what a run would take, before it is started."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

from riskcut.analysis.binding import Bound, bind
from riskcut.analysis.running import Settings, most_blocks, plain_blocks
from riskcut.cli.opening import open_study
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.streams import BLOCK_ROWS
from riskcut.reliability.views import views

TIMED_BLOCKS = 2
AIMED_ROWS = 40_000
"""Of one stage or system, about: pilots, design points and sample; a hard one takes several times as many."""


def dry_run(study: Path, *, seed: int, method: str, as_json: bool) -> str:
    """Return what a run of a study would draw, evaluate and take, by timing two blocks of rows here.

    Raises
    ------
    StudyError
        With every fault of the study.
    """
    bound = bind(open_study(study))
    content = _content(bound, Settings(seed=seed, method="plain" if method == "plain" else "auto"))
    if as_json:
        return json.dumps(content, indent=2)
    least, most = content["seconds_of_simulation"]
    return "\n".join(
        [
            f"{bound.compiled.file.study.title}: a run would take",
            f"  {content['columns']:,} columns on {content['drivers']:,} standard normals a row",
            f"  {content['limit_states']:,} limit states in {content['components']:,} components, the events too",
            f"  {content['pilot_rows']:,} rows for the pilot, then "
            f"{_between(content['least_rows'], content['most_rows'])}",
            *_aimed(content),
            f"  some {least:.0f} to {most:.0f} s of simulation on one core of this machine, then the sensitivities",
            f"  about {content['megabytes']:.0f} MB for the rows in hand, whatever their number",
            "Nothing was written.",
        ]
    )


def _aimed(content: dict[str, Any]) -> list[str]:
    if not content["aimed_rows"]:
        return []
    return [
        f"  about {content['aimed_rows']:,} rows aimed at the failures of {content['views']} stages and systems"
    ]


def _between(least: int, most: int) -> str:
    return f"{most:,}" if least == most else f"{least:,} to {most:,}"


def _content(bound: Bound, settings: Settings) -> dict[str, Any]:
    problem, most = bound.problem, most_blocks(settings, bound)
    simulate(
        problem, seed=settings.seed, blocks=1, purpose="dry run"
    )  # the first block pays for what is made once
    begun = time.perf_counter()
    simulate(problem, seed=settings.seed, blocks=TIMED_BLOCKS, purpose="dry run", detail_blocks=0)
    a_row = (time.perf_counter() - begun) / (TIMED_BLOCKS * BLOCK_ROWS * problem.limit_states)
    widest = max(len(component.columns) + 4 * len(component.labels) for component in problem.components)
    aiming = settings.method == "auto"
    least = settings.pilot_blocks
    if aiming:
        least = most = plain_blocks(settings, bound)
    every = views(problem) if aiming else ()
    aimed = AIMED_ROWS * len(every)
    of_views = sum(len(problem.components[place].labels) for view in every for place in view.components)
    evaluations = [
        (settings.pilot_blocks + blocks) * BLOCK_ROWS * problem.limit_states for blocks in (least, most)
    ]
    return {
        "columns": problem.joint.columns,
        "drivers": problem.joint.drivers,
        "components": len(problem.components),
        "limit_states": problem.limit_states,
        "pilot_rows": settings.pilot_blocks * BLOCK_ROWS,
        "least_rows": least * BLOCK_ROWS,
        "most_rows": most * BLOCK_ROWS,
        "views": len(every),
        "aimed_rows": aimed,
        "seconds_of_simulation": [
            a_row * (evaluations[0] + AIMED_ROWS * of_views),
            a_row * (evaluations[1] + 4 * AIMED_ROWS * of_views),
        ],
        "megabytes": (problem.joint.drivers + problem.joint.columns + widest) * BLOCK_ROWS * 8 / 1e6,
    }
