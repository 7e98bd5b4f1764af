"""A good study made bad by chance: nothing but located faults, and one mistake told once."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from study_texts import BOX, CUTS, changed

from riskcut.study.compiling import compile_study
from riskcut.study.errors import Fault, StudyError
from riskcut.study.families import ALL_KEYS
from riskcut.study.lookup import keys_at
from riskcut.study.reading import parse_study
from riskcut.study.source import read_source
from riskcut.study.uncertain import is_number

MORE = """\
models: {base_heave: {form: wide}}
model_factors: {base_heave: {failure: {dist: lognormal, mean: 1.0, cov: 0.1}}}

events:
  pump_loss:
    stages: [dig_b, dig_c]
    water: {drawdown: 0}
    rate: 0.5 per year
    basis: judgement
    source: standby sets

loads:
  temperature_rise: {low: 5, high: 15}
  edge:
    crane: {pressure: {mean: 60, sd: 5}, distance: 1.5, width: 4, length: 6}
"""
WHOLE = changed(BOX, ("loads:\n", MORE))
TREES = {name: read_source(name, text.encode()) for name, text in (("box", WHOLE), ("cuts", CUTS))}
TEXTS = ("title", "note", "source", "form")

Keys = tuple[Any, ...]


def told(tree: Any) -> tuple[Fault, ...]:
    """Return what is wrong with a tree; one in order must compile as well."""
    content = json.dumps(tree, indent=1).encode()
    try:
        study = compile_study(parse_study("study.yaml", content, lambda _name: None), lambda _block: {})
    except StudyError as error:
        lines = content.count(b"\n") + 1
        for fault in error.faults:
            assert 1 <= fault.line <= lines, fault
            assert fault.given.strip(), fault
            assert fault.wanted.strip(), fault
            assert "\n" not in fault.text("study.yaml")
        return error.faults
    for template in study.templates:
        template.fill(study.means)
    return ()


def holder(tree: Any, path: Keys) -> Any:
    for key in path[:-1]:
        tree = tree[key]
    return tree


def rename(tree: dict[str, Any], old: str, new: str) -> None:
    entries = list(tree.items())
    tree.clear()
    tree.update((new if key == old else key, value) for key, value in entries)


def of_schema(tree: Any, path: Keys) -> bool:
    """Whether the last key is one of the schema's rather than a name that the writer chose."""
    return isinstance(path[-1], str) and (path[-1] in keys_at(path[:-1]) or is_number(holder(tree, path)))


BOX_PATHS = [path for path in TREES["box"].lines if path[0] != "sections"]
LEAVES = [
    path for path in BOX_PATHS if not isinstance(holder(TREES["box"].tree, path)[path[-1]], dict | list)
]


def test_the_good_studies_are_good() -> None:
    for source in TREES.values():
        assert told(source.tree) == ()


@pytest.mark.parametrize("junk", ["two words", True, [[1]]], ids=["words", "true", "list"])
@pytest.mark.parametrize("part", range(4))
def test_junk_in_one_place_is_one_fault_in_that_place(junk: object, part: int) -> None:
    for path in LEAVES[part::4]:
        tree = copy.deepcopy(TREES["box"].tree)
        holder(tree, path)[path[-1]] = junk
        faults = told(tree)
        if junk == "two words" and path[-1] in TEXTS:
            assert faults == ()
            continue
        assert len(faults) == 1, (path, [fault.text("") for fault in faults])
        named = [str(key) for key in path if not (isinstance(key, int) and path[0] != "dependence")]
        near = faults[0].path.split(".")
        assert near == named[: len(near)], path
        assert len(near) >= len(named) - 1, path


@pytest.mark.parametrize("part", range(4))
def test_a_misspelt_key_is_one_fault_that_names_the_key_meant(part: int) -> None:
    paths = [path for path in BOX_PATHS if of_schema(TREES["box"].tree, path)]
    for path in paths[part::4]:
        tree = copy.deepcopy(TREES["box"].tree)
        wrong = path[-1] + path[-1][-1]
        rename(holder(tree, path), path[-1], wrong)
        faults = told(tree)
        assert len(faults) == 1, (path, [fault.text("") for fault in faults])
        assert faults[0].path == ".".join(map(str, (*path[:-1], wrong)))
        assert faults[0].given == f"the key {wrong}"
        # Where there is only one key, that is the one wanted.
        assert path[-1] in faults[0].wanted.split("did you mean")[-1]


def test_a_key_of_which_nothing_is_known_is_one_fault() -> None:
    paths = [path for path in BOX_PATHS if of_schema(TREES["box"].tree, path)]
    for path in paths[::2]:
        tree = copy.deepcopy(TREES["box"].tree)
        rename(holder(tree, path), path[-1], "zzq")
        faults = told(tree)
        assert [fault.given for fault in faults] == ["the key zzq"], (
            path,
            [fault.text("") for fault in faults],
        )


def test_a_key_without_its_value_is_one_fault() -> None:
    for path in BOX_PATHS[::2]:
        tree = copy.deepcopy(TREES["box"].tree)
        holder(tree, path)[path[-1]] = None
        faults = told(tree)
        assert len(faults) == 1, (path, [fault.text("") for fault in faults])
        assert faults[0].given.startswith(("nothing", "a list [")), path


JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-40, 40),
    st.floats(-50, 50),
    st.sampled_from(
        [10**400, 1e-320, 1e300, "", " ", "x", "12 m", "3 kPaa", "1 year", "slab", "top_frame", "clay"]
    ),
    st.sampled_from(
        ["per_stage", "gumbel", "stage", "permanent", "water.table", "\N{MINUS SIGN}2", "a: b", "é"]
    ),
    st.lists(st.sampled_from(["top_frame", "low_frame", "tension_piles", 3, None]), max_size=3),
    st.dictionaries(
        st.sampled_from([*ALL_KEYS, "zz"]), st.floats(-5, 50) | st.sampled_from(["gumbel", None]), max_size=3
    ),
)


@settings(deadline=None, max_examples=150)
@given(data=st.data(), name=st.sampled_from(sorted(TREES)), times=st.integers(1, 4))
def test_random_changes_raise_nothing_but_located_faults(data: st.DataObject, name: str, times: int) -> None:
    tree = copy.deepcopy(TREES[name].tree)
    paths = list(TREES[name].lines)
    for _ in range(times):
        path = data.draw(st.sampled_from(paths))
        here: Any = tree
        for key in path[:-1]:
            there = isinstance(here, dict) or (
                isinstance(here, list) and isinstance(key, int) and key < len(here)
            )
            here = (here[key] if isinstance(here, list) else here.get(key)) if there else None
        key = path[-1]
        listed = isinstance(here, list) and isinstance(key, int) and len(here) > key
        if not (isinstance(here, dict) and key in here) and not listed:
            continue  # an earlier change took it away
        act = data.draw(st.sampled_from(["delete", "change", "rename", "double"]))
        if act == "delete":
            del here[key]
        elif act == "change" or isinstance(here, list):
            here[key] = data.draw(JUNK)
        elif act == "rename":
            others = sorted({p[-1] for p in paths if isinstance(p[-1], str)})
            rename(
                here,
                key,
                data.draw(st.sampled_from([f"{key}x", key[:-1] or "y", key.upper(), "a b", *others])),
            )
        else:
            here[f"{key}_2"] = copy.deepcopy(here[key])
    told(tree)
