"""Whether any of the rows is true, or all are."""

from __future__ import annotations

import numpy as np

from riskcut.study.block import Rows


def some(rows: Rows) -> bool:
    """Tell whether any row is true: as ``np.any``, which takes ten times as long over the few rows of a search."""
    return bool(np.count_nonzero(rows)) if isinstance(rows, np.ndarray) else bool(rows)


def every(rows: Rows) -> bool:
    """Tell whether all rows are true: as ``np.all``."""
    return bool(np.count_nonzero(rows) == rows.size) if isinstance(rows, np.ndarray) else bool(rows)
