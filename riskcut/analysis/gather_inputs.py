"""The inputs of a bound study as arrays of the results: each variable, its draws, its dependence."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from riskcut.analysis.binding import Bound
from riskcut.results.status import Status
from riskcut.study.columns import Column

IN_ITS_UNIT = ("mean", "sd", "location", "scale")
"""Parameters of a fit that have the unit of the number; the others have none, or are of its logarithm."""

VARIES = {(False, False): "constant", (False, True): "per stage", (True, False): "per section"}


def variables(bound: Bound) -> dict[str, Column]:
    """Return one column for each uncertain number, by its address, in the order met."""
    first: dict[str, Column] = {}
    for column in bound.compiled.columns:
        first.setdefault(column.address, column)
    return first


def inputs(bound: Bound, quantiles: list[float]) -> dict[str, Any]:
    """Return the group ``inputs``."""
    columns = bound.compiled.columns
    of = variables(bound)
    base = [column.quantity.marginal for column in of.values()]
    mean = np.array([m.mean for m in base])
    sd = np.array([m.sd for m in base])
    centred = mean == 0.0
    file = bound.compiled.file
    drivers = [column.driver for column in of.values()]
    return {
        "kind": [m.kind for m in base],
        "mean": mean,
        "standard_deviation": sd,
        "coefficient_of_variation": np.where(centred, np.nan, sd / np.where(centred, 1.0, np.abs(mean))),
        "coefficient_of_variation_status": np.where(
            centred, Status.NOT_APPLICABLE.value, Status.COMPUTED.value
        ).astype(np.int8),
        "input_quantile": np.array([m.quantile(np.array(quantiles)) for m in base]).reshape(len(base), -1),
        "unit": [c.quantity.unit for c in of.values()],
        "source": [c.quantity.source or "not stated" for c in of.values()],
        "basis": [c.quantity.basis.replace("_", " ") for c in of.values()],
        "varies": [VARIES[bool(c.section), bool(c.stage)] for c in of.values()],
        "stated_in": ["study" if file.states(address) else "mechanism default" for address in of],
        "correlation": bound.problem.joint.correlation[np.ix_(drivers, drivers)],
        "draw_variable": [c.address for c in columns],
        "draw_section": [c.section for c in columns],
        "draw_stage": [c.stage for c in columns],
        "draw_mean": np.array([m.mean for m in bound.marginals]),
        "draw_standard_deviation": np.array([m.sd for m in bound.marginals]),
        **_from_data(of),
    }


def _from_data(of: Mapping[str, Column]) -> dict[str, Any]:
    """Return what the inputs were fitted to, and the parameters that came of it, a row each."""
    had = [column.quantity.from_data for column in of.values()]
    fits = [None if one is None else one.fit for one in had]
    rows = [
        (
            address,
            name,
            value,
            fit.standard_errors[name],
            column.quantity.unit if name in IN_ITS_UNIT else "1",
        )
        for (address, column), fit in zip(of.items(), fits, strict=True)
        if fit is not None
        for name, value in fit.parameters.items()
    ]
    address, name, value, error, unit = zip(*rows, strict=True) if rows else ((), (), (), (), ())
    return {
        "data_values": np.array([0 if one is None else len(one.values) for one in had], dtype=np.int64),
        "data_file": [(c.quantity.data or "") if c.quantity.from_data else "" for c in of.values()],
        "data_column": ["" if one is None else one.column for one in had],
        "fitted": np.array([fit is not None for fit in fits], dtype=bool),
        "log_likelihood": np.array([np.nan if fit is None else fit.log_likelihood for fit in fits]),
        "fit_distance": ["" if fit is None else fit.meaning for fit in fits],
        "parameter_variable": list(address),
        "parameter_name": list(name),
        "parameter_value": np.array(value, dtype=np.float64),
        "parameter_standard_error": np.array(error, dtype=np.float64),
        "parameter_unit": list(unit),
    }


def dependent_groups(bound: Bound) -> np.ndarray[Any, np.dtype[np.int64]]:
    """Return, for each variable, the number of the group of dependent inputs that it is in; -1 alone."""
    number = {}
    for index, group in enumerate(g for g in bound.problem.joint.groups if len(g) > 1):
        number.update(dict.fromkeys(group, index))
    return np.array([number.get(column.driver, -1) for column in variables(bound).values()], dtype=np.int64)
