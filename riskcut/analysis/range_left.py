"""Which limits of a mechanism's range of use some rows leave, and how many of the rows leave each."""

from __future__ import annotations

from typing import Final

import numpy as np

from riskcut.analysis.binding import Bound
from riskcut.analysis.limit_states import LimitState
from riskcut.analysis.parts import BoundBlock
from riskcut.reliability.streams import normals

ROWS: Final = 2048
PURPOSE: Final = "range of use"


def limits_left(bound: Bound, block: BoundBlock, state: LimitState, *, seed: int) -> dict[str, float]:
    """Return the limits that a limit state leaves, each with its share of rows, the most frequent first.

    Parameters
    ----------
    bound : Bound
    block : BoundBlock
    state : LimitState
        One that applies in the block.
    seed : int
        Of the run; the rows are of a stream of their own.
    """
    joint, template = bound.problem.joint, block.template
    z = joint.correlate(normals(seed=seed, purpose=PURPOSE, index=0, count=joint.drivers)[:ROWS])
    x = joint.physical(z, template.columns)
    filled = template.fill(dict(zip(template.columns, x.T, strict=True)))
    outside = state.mechanism.outcome(filled, state.member.name).outside
    shares = {limit: float(np.mean(rows)) for limit, rows in outside.items()}
    return dict(sorted(((k, v) for k, v in shares.items() if v > 0.0), key=lambda one: -one[1]))
