"""The inputs of a run that were had from data: which, by how many values, and the parameters that came of it."""

from __future__ import annotations

from dataclasses import dataclass

import xarray as xr

from riskcut.results.reading import labels


@dataclass(frozen=True, slots=True)
class FittedParameter:
    """One parameter of a fit."""

    name: str
    value: float
    standard_error: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DataInput:
    """One input that was had from data."""

    variable: str
    kind: str
    values: int
    """How many."""
    file: str
    column: str
    """Empty where the file names none."""
    parameters: tuple[FittedParameter, ...]
    """None where the data are the distribution themselves (empirical)."""
    log_likelihood: float | None
    distance: str
    """How far the data stray from the fit, in words."""


def data_inputs(tree: xr.DataTree) -> list[DataInput]:
    """Return the inputs that were had from data, in the order of the tree."""
    if "inputs" not in tree or "data_values" not in tree["inputs"]:
        return []  # results of an earlier version
    group = {str(name): array.values for name, array in tree["inputs"].data_vars.items()}
    found = []
    for i, variable in enumerate(labels(tree, "variable")):
        if not group["data_values"][i]:
            continue
        rows = [row for row, of in enumerate(group["parameter_variable"]) if of == variable]
        found.append(
            DataInput(
                variable=variable,
                kind=str(group["kind"][i]),
                values=int(group["data_values"][i]),
                file=str(group["data_file"][i]),
                column=str(group["data_column"][i]),
                parameters=tuple(
                    FittedParameter(
                        name=str(group["parameter_name"][row]),
                        value=float(group["parameter_value"][row]),
                        standard_error=float(group["parameter_standard_error"][row]),
                        unit=str(group["parameter_unit"][row]),
                    )
                    for row in rows
                ),
                log_likelihood=float(group["log_likelihood"][i]) if group["fitted"][i] else None,
                distance=str(group["fit_distance"][i]),
            )
        )
    return found
