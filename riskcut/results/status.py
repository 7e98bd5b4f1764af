"""How far an estimate may be trusted: the int8 that stands beside every one of them."""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from numpy.typing import NDArray


class Status(IntEnum):
    """Status of an estimate, stored as int8 with the CF attributes ``flag_values`` and ``flag_meanings``."""

    COMPUTED = 0
    """There is a number, and an interval for it."""
    UPPER_BOUND_ONLY = 1
    """No failure (or nothing but failures) was seen: only a one-sided bound is known."""
    FIRST_ORDER_ONLY = 2
    """The number is a first-order value, without a sampling interval."""
    UNTRUSTED = 3
    """There may be a number, but a check on it failed: see the reason."""
    NOT_APPLICABLE = 4
    """There is nothing to evaluate here: see the reason."""
    CANNOT_FAIL = 5
    """The margin does not depend on any uncertain input, and is positive."""

    @property
    def meaning(self) -> str:
        """The CF word of this status, as in ``flag_meanings``."""
        return self.name.lower()

    @property
    def words(self) -> str:
        """The same for a reader: with spaces."""
        return self.meaning.replace("_", " ")


def status_attributes() -> dict[str, str | NDArray[np.int8]]:
    """Return the CF flag attributes of a status variable.

    Returns
    -------
    dict
        ``flag_values`` (int8 array) and ``flag_meanings`` (words separated by blanks), in the same order
        (CF conventions, section 3.5).
    """
    return {
        "flag_values": np.array([s.value for s in Status], dtype=np.int8),
        "flag_meanings": " ".join(s.meaning for s in Status),
    }


def flag_attributes() -> dict[str, str | NDArray[np.int8]]:
    """Return the CF flag attributes of a plain yes/no variable (int8, 0 or 1)."""
    return {"flag_values": np.array([0, 1], dtype=np.int8), "flag_meanings": "no yes"}
