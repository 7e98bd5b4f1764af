"""``riskcut run --dry-run``: what a run would take, before it is started."""

from __future__ import annotations

import json
import time
from pathlib import Path
from typing import Any

from riskcut.analysis.binding import Bound, bind
from riskcut.analysis.running import Settings, most_blocks
from riskcut.cli.opening import open_study
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.streams import BLOCK_ROWS

TIMED_BLOCKS = 2


def dry_run(study: Path, *, seed: int, as_json: bool) -> str:
    """Return what a run of a study would draw, evaluate and take, by timing two blocks of rows here.

    Raises
    ------
    StudyError
        With every fault of the study.
    """
    bound = bind(open_study(study))
    content = _content(bound, Settings(seed=seed))
    if as_json:
        return json.dumps(content, indent=2)
    least, most = content["seconds_of_simulation"]
    return "\n".join(
        [
            f"{bound.compiled.file.study.title}: a run would take",
            f"  {content['columns']:,} columns on {content['drivers']:,} standard normals a row",
            f"  {content['limit_states']:,} limit states in {content['components']:,} components, the events too",
            f"  {content['pilot_rows']:,} rows for the pilot, then {content['least_rows']:,} to "
            f"{content['most_rows']:,}",
            f"  {least:.0f} to {most:.0f} s of simulation on one core of this machine, then the sensitivities",
            f"  about {content['megabytes']:.0f} MB for the rows in hand, whatever their number",
            "Nothing was written.",
        ]
    )


def _content(bound: Bound, settings: Settings) -> dict[str, Any]:
    problem, most = bound.problem, most_blocks(settings, bound)
    simulate(
        problem, seed=settings.seed, blocks=1, purpose="dry run"
    )  # the first block pays for what is made once
    begun = time.perf_counter()
    simulate(problem, seed=settings.seed, blocks=TIMED_BLOCKS, purpose="dry run", detail_blocks=0)
    a_block = (time.perf_counter() - begun) / TIMED_BLOCKS
    widest = max(len(component.columns) + 4 * len(component.labels) for component in problem.components)
    return {
        "columns": problem.joint.columns,
        "drivers": problem.joint.drivers,
        "components": len(problem.components),
        "limit_states": problem.limit_states,
        "pilot_rows": settings.pilot_blocks * BLOCK_ROWS,
        "least_rows": settings.pilot_blocks * BLOCK_ROWS,
        "most_rows": most * BLOCK_ROWS,
        "seconds_of_simulation": [
            a_block * 2 * settings.pilot_blocks,
            a_block * (settings.pilot_blocks + most),
        ],
        "megabytes": (problem.joint.drivers + problem.joint.columns + widest) * BLOCK_ROWS * 8 / 1e6,
    }
