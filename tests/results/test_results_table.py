"""The table of names is whole, and nothing gets past it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import xarray as xr
from invented_results import arrays, attributes, coordinates

from riskcut.results.errors import VocabularyError
from riskcut.results.names import COORDINATES, TABLE, Entry
from riskcut.results.status import Status
from riskcut.results.vocabulary import assemble, blank, lookup

ENTRIES = [pytest.param(g, e, id=f"{g}/{e.name}") for g, table in TABLE.items() for e in table.values()]
UNITS = {"1", "m", "kPa"} | {
    f"see {name}"
    for name in ("unit", "step_unit", "draw_variable", "parameter_unit", "response_unit", "constant_unit")
}


@pytest.mark.parametrize(("group", "entry"), ENTRIES)
def test_each_entry_is_whole(group: str, entry: Entry) -> None:
    assert entry.units in UNITS
    assert entry.long_name[0].isupper()
    assert "_" not in entry.long_name
    assert "bound" not in entry.dims[:-1], "bound is the last dim: the checks rely on it"
    for guard in entry.guards:
        other = TABLE[group][guard]
        assert other.kind in ("status", "flag")
        assert [d for d in entry.dims if d in other.dims] == list(other.dims), "a guard broadcasts in order"
    if "_bounds" in entry.name:
        assert entry.dims[-1] == "bound"
        assert entry.dims[:-1] == TABLE[group][entry.name.removesuffix("_bounds")].dims


def test_every_estimate_has_a_status() -> None:
    """Whatever a simulation estimates is guarded; quantities that are merely stated need not be."""
    for group in ("reliability", "sensitivity", "convergence", "margins"):
        for entry in TABLE[group].values():
            if entry.kind == "real" and entry.name != "target_reliability_index":
                assert any(TABLE[group][g].kind == "status" for g in entry.guards), entry.name


def test_units_names_and_flags_are_on_every_array(tree: xr.DataTree) -> None:
    seen = 0
    for node in tree.subtree:
        for array in node.to_dataset(inherit=False).variables.values():
            assert array.attrs["units"] in UNITS
            assert array.attrs["long_name"]
            seen += 1
    assert seen == sum(map(len, TABLE.values())) + len(COORDINATES)


def test_dims_and_dtypes_are_those_of_the_table(tree: xr.DataTree) -> None:
    kinds = {"real": "f8", "integer": "i8", "byte": "u1", "status": "i1", "flag": "i1"}
    for group, table in TABLE.items():
        for name, entry in table.items():
            array = tree[group][name]
            assert array.dims == entry.dims
            if entry.kind in kinds:
                assert array.dtype == np.dtype(kinds[entry.kind])
            else:
                assert array.dtype.kind == "U"


def test_status_flags_follow_cf(tree: xr.DataTree) -> None:
    """As many int8 values as meanings, the meanings without blanks inside (CF, section 3.5)."""
    words = "computed upper_bound_only first_order_only untrusted not_applicable cannot_fail"
    for group, table in TABLE.items():
        for name, entry in table.items():
            attrs = tree[group][name].attrs
            if entry.kind == "status":
                assert attrs["flag_values"].dtype == np.int8
                assert attrs["flag_values"].tolist() == [0, 1, 2, 3, 4, 5]
                assert attrs["flag_meanings"] == words
            elif entry.kind == "flag":
                assert attrs["flag_values"].tolist() == [0, 1]
                assert attrs["flag_meanings"] == "no yes"
            else:
                assert "flag_values" not in attrs


def test_root_says_what_it_follows(tree: xr.DataTree) -> None:
    assert tree.attrs["Conventions"] == "CF-1.11"
    assert tree.attrs["title"] == "Quay box"
    assert tree.attrs["seed"] == 0
    assert tree["mechanism"].values.tolist() == ["plug_uplift", "prop_overload", "prop_overload"]
    assert tree["member"].values.tolist() == ["strip", "upper", "lower"]
    assert tree["bound"].values.tolist() == ["lower", "upper"]
    assert tree["variable_2"].values.tolist() == tree["variable"].values.tolist()
    picked = tree["reliability"]["failure_probability"].sel(section="east", stage="last dig")
    assert picked.dims == ("limit_state",), "labels are inherited by the groups"


def test_attributes_come_from_the_table_alone(groups: dict[str, dict[str, Any]]) -> None:
    """A ratio of two pressures would keep kPa: whatever an array brings along is dropped."""
    entry = lookup("reliability", "failure_probability")
    values = groups["reliability"]["failure_probability"]
    groups["reliability"]["failure_probability"] = xr.DataArray(
        values, dims=entry.dims, attrs={"units": "kPa"}
    )
    tree = assemble("Quay box", coordinates(), groups, attributes())
    assert tree["reliability"]["failure_probability"].attrs == {
        "units": "1", "long_name": "Probability of failure",
    }  # fmt: skip


@pytest.mark.parametrize("form", ["bare", "pair", "array", "list"])
def test_an_array_may_come_in_several_forms(groups: dict[str, dict[str, Any]], form: str) -> None:
    dims = lookup("cut", "wall_toe").dims
    values = groups["cut"]["wall_toe"]
    given = {
        "bare": values,
        "pair": (dims, values),
        "array": xr.DataArray(values, dims=dims),
        "list": values.tolist(),
    }
    groups["cut"]["wall_toe"] = given[form]
    groups["reliability"]["method"] = ((), "plain simulation")
    groups["files"]["length"] = ("file", groups["files"]["length"])
    tree = assemble("Quay box", coordinates(), groups, attributes())
    np.testing.assert_array_equal(tree["cut"]["wall_toe"].values, values)
    assert tree["reliability"]["method"].item() == "plain simulation"


def test_true_and_false_may_fill_a_flag(groups: dict[str, dict[str, Any]]) -> None:
    groups["cut"]["has_slab"] = [True, False]
    groups["cut"]["slab_thickness"] = [1.2, np.nan]
    tree = assemble("Quay box", coordinates(), groups, attributes())
    assert tree["cut"]["has_slab"].values.tolist() == [1, 0]


def test_a_results_tree_may_hold_a_part_of_the_table() -> None:
    tree = assemble("Quay box", {"limit_state": ["a/b"]}, {"reliability": {"response_unit": ["kPa"]}}, {})
    assert list(tree.children) == ["reliability"]
    assert "section" not in tree.coords


def put(group: str, name: str, value: Any) -> dict[str, dict[str, Any]]:
    groups = arrays()
    groups.setdefault(group, {})[name] = value
    return groups


FULL = (2, 3, 3)
BAD_ARRAYS: list[tuple[str, str, Any, str]] = [
    ("reliability", "failure_probabilty", 0.1,
     "no array 'failure_probabilty'; did you mean 'failure_probability'"),
    ("relability", "rows", 1, "no group 'relability' in the results; did you mean 'reliability'"),
    ("reliability", "zzz", 1, r"group 'reliability' has no array 'zzz'$"),
    ("reliability", "failure_probability", (("stage", "section", "limit_state"), np.zeros((3, 2, 3))),
     r"has dims \(stage, section, limit_state\); the table says \(section, stage, limit_state\)"),
    ("reliability", "failure_probability", np.zeros((2, 3)), "failure_probability has 2 dims"),
    ("reliability", "failure_probability", np.zeros((2, 3, 4)), "has 4 entries along 'limit_state', not 3"),
    ("reliability", "failure_probability", np.zeros(FULL, dtype=bool),
     "holds bool, and the table says float64"),
    ("reliability", "failure_probability", np.full(FULL, None), "holds object"),
    ("reliability", "failure_probability", [[0.1], [0.2, 0.3]], "not a full array"),
    ("reliability", "failures", np.full(FULL, 1.5), "holds float64, and the table says int64"),
    ("reliability", "status", np.full(FULL, 6), "holds 6; a status is one of 0, 1, 2, 3, 4, 5"),
    ("reliability", "status", np.full(FULL, 300), "does not fit in int8"),
    ("reliability", "governing", np.full(FULL, 2), "holds 2; a flag is one of 0, 1"),
    ("reliability", "reason", np.full(FULL, None), "holds text, not None"),
    ("reliability", "method", 3, "holds text, not 3"),
    ("reliability", "method", "a\0b", "zero byte"),
    ("reliability", "failure_probability_bounds", np.broadcast_to([0.2, 0.1], (*FULL, 2)),
     "bound is above the upper one at section 'west', stage 'first dig', limit_state 'plug_uplift/strip'"),
    ("margins", "margin_edge", np.zeros((*FULL, 5, 1)), "margin_edge has 5 dims"),
    ("files", "content", np.array([1.0]), "holds float64, and the table says uint8"),
    ("files", "content", np.array([256]), "does not fit in uint8"),
]  # fmt: skip


@pytest.mark.parametrize(("group", "name", "value", "text"), BAD_ARRAYS)
def test_an_array_that_does_not_match_is_refused(group: str, name: str, value: Any, text: str) -> None:
    with pytest.raises(VocabularyError, match=text):
        assemble("Quay box", coordinates(), put(group, name, value), attributes())


def test_an_estimate_without_its_status_is_refused(groups: dict[str, dict[str, Any]]) -> None:
    """Even where no number is missing: a reader must find the status of every estimate."""
    del groups["reliability"]["status"]
    with pytest.raises(VocabularyError, match="reliability/failure_probability needs status beside it"):
        assemble("Quay box", coordinates(), groups, attributes())


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"sections": ["a"]}, "no coordinate 'sections' in the results; did you mean 'section'"),
        ({"section": ["west", "west"]}, "coordinate 'section' has a label twice"),
        ({"section": ["west", 2]}, "holds text, not 2"),
        ({"section": ["west"]}, "has 2 entries along 'section', not 1"),
        ({"limit_state": ["a/b", "c/d", "prop"]}, "limit_state 'prop' is not written as mechanism/member"),
        ({"limit_state": ["a/b", "c/d", "/e"]}, "limit_state '/e' is not written"),
        ({"bound": ["low", "high"]}, "coordinate 'bound' is"),
        ({"mechanism": ["a", "b", "c"]}, "coordinate 'mechanism' is"),
        ({"variable_2": ["a", "b", "c", "d"]}, "coordinate 'variable_2' is"),
        ({"quantile": [0.05, float("nan"), 0.95]}, "a label that is no number"),
        ({"sample_size": [1.5, 2.5]}, "holds float64, and the table says int64"),
        ({"stratum": None}, "needs the coordinate 'stratum'"),
    ],
)
def test_a_coordinate_that_does_not_match_is_refused(change: dict[str, Any], text: str) -> None:
    coords = {name: labels for name, labels in (coordinates() | change).items() if labels is not None}
    with pytest.raises(VocabularyError, match=text):
        assemble("Quay box", coords, arrays(), attributes())


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"sede": 1}, "no attribute 'sede' in the results; did you mean 'seed'"),
        ({"seed": True}, "attribute 'seed' is True; it must be int"),
        ({"seed": None}, "attribute 'seed' is None; it must be int"),
        ({"seed": 1.0}, "it must be int"),
        ({"seed": 2**63}, "does not fit in 64 bits"),
        ({"cpu": None}, "attribute 'cpu' is None; it must be str"),
        ({"cpu": False}, "it must be str"),
        ({"history": "a\0"}, "zero byte"),
        ({"not_covered": ["a", "b"]}, "it must be str"),
    ],
)
def test_an_attribute_that_does_not_match_is_refused(change: dict[str, Any], text: str) -> None:
    with pytest.raises(VocabularyError, match=text):
        assemble("Quay box", coordinates(), {}, attributes() | change)


def test_a_numpy_integer_is_an_integer() -> None:
    tree = assemble("Quay box", {}, {}, attributes() | {"seed": np.int64(7)})
    assert type(tree.attrs["seed"]) is int


def test_blanks_are_missing_and_say_so() -> None:
    sizes = {"section": 2, "stage": 1, "limit_state": 1, "bound": 2, "more": 9}
    assert np.isnan(blank("reliability", "failure_probability_bounds", sizes)).all()
    status = blank("reliability", "status", sizes)
    assert (status.dtype, status.ravel().tolist()) == (np.int8, [Status.NOT_APPLICABLE] * 2)
    assert blank("reliability", "failures", sizes).sum() == 0
    text = blank("reliability", "reason", sizes)
    text[0] = "a long reason that is not cut off"
    assert text.ravel().tolist() == ["a long reason that is not cut off", ""]
