"""A results tree that holds every array of the table, invented throughout."""

from __future__ import annotations

from typing import Any

import pytest
import xarray as xr
from invented_results import arrays, attributes, coordinates

from riskcut.results.vocabulary import assemble


@pytest.fixture
def groups() -> dict[str, dict[str, Any]]:
    return arrays()


@pytest.fixture
def tree() -> xr.DataTree:
    return assemble("Quay box", coordinates(), arrays(), attributes())
