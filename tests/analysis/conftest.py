"""Studies written as text, run small."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import xarray as xr

from riskcut.analysis.running import Settings, analyse
from riskcut.study.reading import StudyFile, parse_study


@pytest.fixture
def study() -> Callable[..., StudyFile]:
    def make(text: str, *changes: tuple[str, str]) -> StudyFile:
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new)
        return parse_study("study.yaml", text.encode(), {}.get)

    return make


@pytest.fixture
def run(study: Callable[..., StudyFile]) -> Callable[..., xr.DataTree]:
    def make(text: str, *changes: tuple[str, str], **settings: object) -> xr.DataTree:
        values = {"seed": 5, "pilot_blocks": 2, "cap_blocks": 32, "base_rows": 64} | settings
        return analyse(study(text, *changes), Settings(**values))

    return make
