"""What every mechanism keeps, whichever it is: a new file in the folder is tested by being there."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from typing import Any, get_args

import numpy as np
import pytest

from riskcut.mechanisms import catalogue
from riskcut.mechanisms.contract import Basis, Mechanism, Outcome
from riskcut.study.block import Block


def rows_of(value: Any, pick: Callable[[np.ndarray], Any]) -> Any:
    """Return a block with every array replaced by what ``pick`` makes of it."""
    if isinstance(value, np.ndarray):
        return pick(value)
    if isinstance(value, tuple):
        return tuple(rows_of(entry, pick) for entry in value)
    if isinstance(value, dict):
        return {key: rows_of(entry, pick) for key, entry in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{f.name: rows_of(getattr(value, f.name), pick) for f in fields(value)})
    return value


def applicable(mechanism: Mechanism, block: Block) -> list[str]:
    means = rows_of(block, lambda array: float(array.mean()))
    return [member.name for member in mechanism.members(means) if member.not_applicable is None]


def inside(outcome: Outcome, rows: int) -> np.ndarray:
    """Return the rows within the range of use."""
    kept = np.ones(rows, dtype=bool)
    for outside in outcome.outside.values():
        kept &= ~np.broadcast_to(outside, rows)
    return kept


def test_catalogue_holds_the_files_of_the_folder() -> None:
    found = catalogue()
    assert list(found) == sorted(found)
    first = {"base_heave", "plug_uplift", "prop_overload"}
    assert first | {"flotation", "hydraulic_heave", "long_term_heave"} <= set(found)
    assert [name for name, one in found.items() if not one.factors] == ["overtopping"], "level against level"
    found.clear()
    assert catalogue(), "a caller cannot empty the catalogue"


def test_every_field_is_filled(mechanism_name: str) -> None:
    mechanism = catalogue()[mechanism_name]
    assert mechanism.name == mechanism_name
    module = importlib.import_module(f"riskcut.mechanisms.{mechanism_name}")
    assert len(module.__doc__ or "") > 300
    for text in (mechanism.title, mechanism.sentence, mechanism.unit, mechanism.formula):
        assert text.strip() == text != ""
    assert mechanism.sentence.endswith(".")
    for listed in (mechanism.range_of_use, mechanism.sources, mechanism.not_covered, mechanism.symbols):
        assert listed
        assert len(set(listed)) == len(listed)
    assert all(text.strip() for text in (*mechanism.range_of_use, *mechanism.sources, *mechanism.not_covered))
    assert all(s.symbol and s.meaning and s.unit for s in mechanism.symbols)
    assert {"R", "S"} <= {s.symbol for s in mechanism.symbols}
    for factor in mechanism.factors.values():
        assert factor.mean > 0.0
        assert factor.cov > 0.0
        assert 0.0 <= factor.correlation < 1.0
        assert factor.basis in get_args(Basis)
        assert len(factor.source) > 20
        assert factor.term
    assert mechanism.monotone
    assert set(mechanism.monotone.values()) <= {-1, 1}
    for option in mechanism.options.values():
        assert option.meaning
        assert bool(option.choices) != (option.lowest is not None), "words to choose from, or limits"
        if option.choices:
            assert option.default is None or option.default in option.choices
        else:
            assert option.lowest <= option.default <= option.highest


def test_members_read_the_means_and_have_a_factor(mechanism_name: str, scene_name: str, scenes: dict) -> None:
    mechanism = catalogue()[mechanism_name]
    means = rows_of(scenes[scene_name], lambda array: float(array.mean()))
    members = mechanism.members(means)
    assert members == mechanism.members(means)
    names = [member.name for member in members]
    assert len(set(names)) == len(names)
    for member in members:
        assert (mechanism.factor(member.name) is not None) == bool(mechanism.factors)
        assert member.not_applicable is None or len(member.not_applicable) > 10


def test_rows_are_rows(mechanism_name: str, scene_name: str, scenes: dict) -> None:
    """Shapes kept; a row by itself, as floats and as arrays of one, gives what it gives among the others."""
    mechanism, block = catalogue()[mechanism_name], scenes[scene_name]
    rows = len(block.formation)
    for member in applicable(mechanism, block):
        together = mechanism.outcome(block, member)
        for value in (together.resistance, together.action, *together.outside.values()):
            assert np.shape(value) in {(), (rows,)}
        for i in range(0, rows, 83):
            alone = mechanism.outcome(rows_of(block, lambda array, i=i: float(array[i])), member)
            one = mechanism.outcome(rows_of(block, lambda array, i=i: array[i : i + 1]), member)
            assert isinstance(alone.resistance, float)
            assert isinstance(alone.action, float)
            assert alone.outside.keys() == together.outside.keys() == one.outside.keys()
            for name in ("resistance", "action"):
                among = np.broadcast_to(getattr(together, name), rows)[i]
                np.testing.assert_allclose(getattr(alone, name), among, rtol=1e-12)
                assert np.shape(getattr(one, name)) in {(), (1,)}
                np.testing.assert_allclose(getattr(one, name), among, rtol=1e-12)
            for limit, outside in together.outside.items():
                assert np.ndim(alone.outside[limit]) == 0
                assert bool(alone.outside[limit]) == np.broadcast_to(outside, rows)[i]


def test_no_row_is_without_a_number_and_ranges_are_declared(
    mechanism_name: str, scene_name: str, scenes: dict
) -> None:
    mechanism, block = catalogue()[mechanism_name], scenes[scene_name]
    rows = len(block.formation)
    for member in applicable(mechanism, block):
        outcome = mechanism.outcome(block, member)
        assert set(outcome.outside) <= set(mechanism.range_of_use)
        assert outcome.outside, "at least one limit is watched"
        kept = inside(outcome, rows)
        assert np.all(np.isfinite(np.broadcast_to(outcome.resistance, rows)[kept]))
        assert np.all(np.isfinite(np.broadcast_to(outcome.action, rows)[kept]))


def test_steps_lead_to_the_two_numbers(mechanism_name: str, scene_name: str, scenes: dict) -> None:
    mechanism = catalogue()[mechanism_name]
    means = rows_of(scenes[scene_name], lambda array: float(array.mean()))
    for member in applicable(mechanism, means):
        outcome = mechanism.outcome(means, member)
        steps = {step.symbol: step for step in outcome.steps}
        assert len(steps) == len(outcome.steps), "one symbol, one number"
        assert steps["R"].value == outcome.resistance
        assert steps["S"].value == outcome.action
        assert steps["R"].unit == steps["S"].unit == mechanism.unit
        assert all(step.meaning and step.unit and np.ndim(step.value) == 0 for step in outcome.steps)
        assert max(i for i, s in enumerate(outcome.steps) if s.symbol in "RS") == len(outcome.steps) - 1


def test_an_unknown_member_is_refused(mechanism_name: str, make_block: Callable[..., Block]) -> None:
    with pytest.raises(ValueError, match="nobody"):
        catalogue()[mechanism_name].outcome(make_block(), "nobody")


def test_crossed_strata_are_never_safe(mechanism_name: str, make_block: Callable[..., Block]) -> None:
    block = make_block()
    soft, firm, sand = block.strata
    crossed = (soft, replace(firm, top=np.array([-12.0, -21.0])), replace(sand, top=np.array([-20.0, -20.0])))
    mechanism = catalogue()[mechanism_name]
    for member in applicable(mechanism, block):
        outcome = mechanism.outcome(replace(block, strata=crossed), member)
        resistance = np.broadcast_to(outcome.resistance, 2)
        assert np.isfinite(resistance[0])
        assert np.isnan(resistance[1])


def test_a_cut_without_depth_is_never_safe(mechanism_name: str, make_block: Callable[..., Block]) -> None:
    formation = np.array([-9.0, 0.0, 0.2])
    mechanism = catalogue()[mechanism_name]
    for member in applicable(mechanism, make_block()):
        outcome = mechanism.outcome(make_block(formation=formation, water_inside=formation), member)
        np.testing.assert_array_equal(np.isnan(np.broadcast_to(outcome.resistance, 3)), [False, True, True])


def test_nothing_applies_before_a_dig(mechanism_name: str, make_block: Callable[..., Block]) -> None:
    block = make_block(dug=False, formation=0.0, water_inside=0.0)
    for member in catalogue()[mechanism_name].members(block):
        assert member.not_applicable is not None
        assert member.not_applicable.startswith("nothing has been dug yet")
