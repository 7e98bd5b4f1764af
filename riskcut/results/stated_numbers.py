"""What the reliability index owes to numbers that are stated without an uncertainty, from the results tree alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import xarray as xr

from riskcut.results import reading
from riskcut.results.estimate import Estimate
from riskcut.results.status import Status
from riskcut.results.wording import quantity

LENGTH = 0.1
"""Change of a level or a length that is told of, in m."""
SHARE = 0.01
"""Of any other number."""


def told_change(value: float, unit: str) -> float:
    """Return the change of a number that is told of: 0.1 m more of a level or a length, 1 % more of others."""
    return LENGTH if unit == "m" else SHARE * value


@dataclass(frozen=True, slots=True)
class Owed:
    """What the first-order index of a limit state owes to one stated number."""

    address: str
    value: float
    unit: str
    slope: float
    """Of the index, per unit of the number."""

    @property
    def change(self) -> float:
        """Change of the index, to first order, for the change of the number that is told of."""
        return self.slope * told_change(self.value, self.unit)

    @property
    def words(self) -> str:
        """``stages.dig_1.dig_to -10.0 m: +0.12 for 0.1 m more``."""
        more = "0.1 m more" if self.unit == "m" else "1 % more"
        return f"{self.address} {quantity(self.value, self.unit)}: {self.change:+.2g} for {more}"


def owed(tree: xr.DataTree, of: Estimate) -> list[Owed]:
    """Return what an index owes to the numbers whose derivative is known and not zero, what matters most first."""
    if "design_point" not in tree.children:
        return []
    group = tree["design_point"].dataset.variables
    if "index_sensitivity_to_constant" not in group:
        return []
    wanted = (("section", of.section), ("stage", of.stage), ("limit_state", of.limit_state))
    at = tuple(reading.labels(tree, dim).index(label) for dim, label in wanted)
    slopes = group["index_sensitivity_to_constant"].to_numpy()[at]
    known = group["index_sensitivity_to_constant_status"].to_numpy()[at] == Status.COMPUTED
    values, units = group["constant_value"].to_numpy(), group["constant_unit"].to_numpy()
    names = reading.labels(tree, "constant")
    found = [
        Owed(names[i], float(values[i]), str(units[i]), float(slopes[i]))
        for i in np.flatnonzero(known & (slopes != 0.0)).tolist()
    ]
    return sorted(found, key=lambda one: -abs(one.change))
