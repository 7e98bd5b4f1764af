"""Published cases as data: a test module names its GROUP, and each case of that file becomes a test."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from riskcut.study.block import Block, Prop, Stratum

CASES = Path(__file__).parent / "cases"


def read_cases(group: str) -> list[dict[str, Any]]:
    """Return the cases of one file."""
    cases: list[dict[str, Any]] = tomllib.loads((CASES / f"{group}.toml").read_text(encoding="utf-8"))["case"]
    return cases


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run a test that asks for a ``case`` once for each case of the module's group."""
    if "case" in metafunc.fixturenames and hasattr(metafunc.module, "GROUP"):
        cases = read_cases(metafunc.module.GROUP)
        metafunc.parametrize("case", cases, ids=[case["id"] for case in cases])


def half_a_digit(printed: str) -> float:
    """Return half a unit of the last digit of a printed number."""
    exponent = Decimal(printed).as_tuple().exponent
    assert isinstance(exponent, int)
    return 0.5 * 10.0**exponent


@pytest.fixture
def compare() -> Callable[[Mapping[str, Any], Mapping[str, Any]], None]:
    """Return the comparison of a case's printed numbers with ours, every one of them."""

    def run(case: Mapping[str, Any], ours: Mapping[str, Any]) -> None:
        assert set(ours) == set(case["expected"]), "every published number is computed, and no other"
        for name, printed in case["expected"].items():
            each = printed if isinstance(printed, list) else [printed]
            got = np.atleast_1d(np.asarray(ours[name], dtype=float))
            assert got.shape == (len(each),), name
            for text, value in zip(each, got, strict=True):
                print(f"{case['id']} {name}: published {text}, ours {value:.10g}")
                slack = half_a_digit(text) * (1.0 + 1e-9)
                assert abs(value - float(text)) <= slack, f"{name}: published {text}, ours {value!r}"

    return run


@pytest.fixture
def clay_cut() -> Callable[..., Block]:
    """Return a maker of a dry cut from level 0 in one clay, as the worked examples have."""

    def make(
        *,
        depth: float,
        unit_weight: float,
        strength: float,
        width: float = 10.0,
        length: float = 100.0,
        surcharge: float = 0.0,
        clay_below: float | None = None,
        props: tuple[float, ...] = (),
        spacing: float = 1.0,
        options: Mapping[str, Mapping[str, str | float]] | None = None,
    ) -> Block:
        strata = [Stratum(name="clay", top=0.0, unit_weight=unit_weight, su_at_top=strength)]
        if clay_below is not None:
            strata.append(
                Stratum(name="hard", top=-depth - clay_below, unit_weight=20.0, friction_angle=40.0)
            )
        return Block(
            section="example",
            stage="dig",
            width=width,
            length=length,
            strata=tuple(strata),
            formation=-depth,
            dug=True,
            water_table=-depth,
            water_inside=-depth,
            surcharge=surcharge,
            temperature_rise=0.0,
            props=tuple(
                Prop(
                    name=f"prop_{i + 1}",
                    level=-at,
                    spacing=spacing,
                    resistance=1e3,
                    made="steel",
                    loaded=True,
                )
                for i, at in enumerate(props)
            ),
            options=options or {},
        )

    return make
