"""Results to draw: a propped box with any number of sections and stages."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache

import matplotlib as mpl
import pytest
import xarray as xr
from box_results import Maker
from matplotlib.figure import Figure

from riskcut.figures import STYLE


@cache
def make_tree(sections: int, stages: int) -> xr.DataTree:
    """Make the tree of a study with so many sections and stages."""
    return Maker(sections, stages).tree()


@pytest.fixture(scope="session")
def trees() -> Callable[[int, int], xr.DataTree]:
    """The maker of trees; a test that changes one copies it first."""
    return make_tree


@pytest.fixture
def box() -> xr.DataTree:
    """One section, eight stages, to be changed at will."""
    return make_tree(1, 8).copy(deep=True)


@pytest.fixture
def figure() -> Iterator[Figure]:
    """An empty figure in the style that the package ships."""
    with mpl.rc_context(fname=str(STYLE)):
        yield Figure()
