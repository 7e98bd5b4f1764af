"""The JSON Schema for editors: valid, complete, and never stricter than riskcut itself."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from pydantic import TypeAdapter, ValidationError
from ruamel.yaml import YAML

from riskcut.study import fields, measures
from riskcut.study.errors import StudyError
from riskcut.study.json_schema import MEASURES, READERS, as_text, study_schema
from riskcut.study.measure import Measure
from riskcut.study.reading import parse_study, read_study
from riskcut.study.schema import Entry, Study

ROOT = Path(__file__).parents[2]
STUDIES = sorted(
    [
        *ROOT.glob("studies/*.yaml"),
        *ROOT.glob("riskcut/study/templates/*.yaml"),
        *ROOT.glob("tests/study/good/*.yaml"),
    ]
)
BOX = ROOT / "tests" / "study" / "good" / "box.yaml"
SECTIONS = ROOT / "tests" / "study" / "good" / "sections.yaml"

SCHEMA = study_schema()
VALIDATOR = Draft202012Validator(SCHEMA)


def loaded(file: Path) -> Any:
    return YAML(typ="safe").load(file.read_text(encoding="utf-8"))


def definition(name: str) -> Draft202012Validator:
    return Draft202012Validator({"$ref": f"#/$defs/{name}", "$defs": SCHEMA["$defs"]})


def test_the_schema_is_a_schema() -> None:
    Draft202012Validator.check_schema(SCHEMA)


def test_the_shipped_file_is_the_schema() -> None:
    shipped = (files("riskcut.study") / "study.schema.json").read_text(encoding="utf-8")
    assert shipped == as_text(), "renew it: riskcut schema --out riskcut/study/study.schema.json"


@pytest.mark.parametrize("file", STUDIES, ids=lambda file: file.stem)
def test_every_study_in_order_is_accepted(file: Path) -> None:
    read_study(file)
    assert [error.message for error in VALIDATOR.iter_errors(loaded(file))] == []


def properties(node: Any, place: str = "") -> Iterator[tuple[str, str, Any]]:
    """Yield every property of the schema: where, its name, its form."""
    if isinstance(node, dict):
        named = node.get("properties")
        for name, form in named.items() if isinstance(named, dict) else ():
            yield place, name, form
        for key, value in node.items():
            yield from properties(value, f"{place}/{key}")
    elif isinstance(node, list):
        for index, value in enumerate(node):
            yield from properties(value, f"{place}/{index}")


def test_every_property_says_what_it_means_and_a_number_its_unit() -> None:
    units = {name: measure.unit for measure, name in MEASURES.items()}
    told = 0
    for place, name, form in properties(SCHEMA):
        if place.startswith("/$defs/Distribution"):
            continue  # conditions on keys that are described where they stand
        assert len(form.get("description", "")) > 4, (place, name)
        forms = [form, *form.get("anyOf", [])]
        for ref in [one["$ref"].rpartition("/")[2] for one in forms if "$ref" in one]:
            unit = units.get(ref.removesuffix("Certain"))
            if unit is not None:
                told += 1
                assert (f"in {unit}" if unit != "1" else "without unit") in form["description"], (place, name)
    assert told > 100


def test_every_key_of_the_study_is_there() -> None:
    def classes(model: type[Entry]) -> set[type[Entry]]:
        return {model}.union(*(classes(below) for below in model.__subclasses__()))

    for model in classes(Entry) - {Entry, Study}:
        for form in ("", "Part"):
            name = f"{model.__name__.removesuffix('Entry')}{form}"
            if form and name not in SCHEMA["$defs"]:
                continue
            assert list(SCHEMA["$defs"][name]["properties"]) == list(model.model_fields), name
    assert set(SCHEMA["properties"]) == {*Study.model_fields, "sections"}


# Each changes a study in order into one whose shape riskcut refuses.
WRONG: dict[str, tuple[Path, Callable[[Any], Any]]] = {
    "no_title": (BOX, lambda s: s.pop("title")),
    "no_ground": (BOX, lambda s: s.pop("ground")),
    "no_works": (BOX, lambda s: s.pop("works")),
    "no_strata": (BOX, lambda s: s["ground"].update(strata={})),
    "no_stages": (BOX, lambda s: s.update(stages={})),
    "title_a_number": (BOX, lambda s: s.update(title=5)),
    "title_empty": (BOX, lambda s: s.update(title=" ")),
    "unknown_key": (BOX, lambda s: s.update(budget=3)),
    "misspelt_key": (BOX, lambda s: s["works"]["cut"].update(lenght=s["works"]["cut"].pop("length"))),
    "stratum_without_top": (BOX, lambda s: s["ground"]["strata"]["clay"].pop("top")),
    "stratum_a_list": (BOX, lambda s: s["ground"]["strata"].update(clay=[1, 2])),
    "bad_name": (BOX, lambda s: s["ground"]["strata"].update({"Soft clay": {"top": 1}})),
    "nothing": (BOX, lambda s: s["works"]["wall"].update(top=None)),
    "a_word_for_a_number": (BOX, lambda s: s["works"]["wall"].update(toe="deep")),
    "a_boolean_for_a_number": (BOX, lambda s: s["works"]["wall"].update(toe=True)),
    "a_list_for_a_number": (BOX, lambda s: s["works"]["wall"].update(toe=[-12, -13])),
    "a_comma_in_a_number": (BOX, lambda s: s["works"]["wall"].update(thickness="0,8")),
    "negative_thickness": (BOX, lambda s: s["works"]["wall"].update(thickness=-0.8)),
    "unit_weight_in_kg": (BOX, lambda s: s["ground"]["strata"]["clay"].update(unit_weight=1750)),
    "angle_beyond_its_bound": (BOX, lambda s: s["ground"]["strata"]["fill"].update(friction_angle=75)),
    "share_above_one": (BOX, lambda s: s["works"]["tension_piles"].update(adhesion=1.2)),
    "number_without_spread": (BOX, lambda s: s["loads"].update(surcharge={"mean": 10})),
    "spread_stated_twice": (BOX, lambda s: s["loads"].update(surcharge={"mean": 10, "sd": 2, "cov": 0.2})),
    "spread_of_zero": (BOX, lambda s: s["loads"].update(surcharge={"mean": 10, "sd": 0})),
    "cov_in_per_cent": (BOX, lambda s: s["loads"].update(surcharge={"mean": 10, "cov": 20})),
    "cov_of_a_level": (BOX, lambda s: s["works"]["wall"].update(toe={"mean": -12, "cov": 0.1})),
    "spread_of_a_level_twice": (
        BOX,
        lambda s: s["works"]["wall"].update(toe={"mean": -12, "sd": 0.1, "cov": 0.1}),
    ),
    "uniform_with_a_mean": (
        BOX,
        lambda s: s["works"]["wall"].update(toe={"low": -12, "high": -11, "mean": -11}),
    ),
    "uniform_without_high": (BOX, lambda s: s["works"]["wall"].update(toe={"dist": "uniform", "low": -12})),
    "mean_of_a_uniform": (
        BOX,
        lambda s: s["works"]["wall"].update(toe={"dist": "uniform", "mean": 1, "sd": 1}),
    ),
    "unknown_distribution": (
        BOX,
        lambda s: s["loads"].update(surcharge={"dist": "cauchy", "mean": 1, "sd": 1}),
    ),
    "unknown_basis": (BOX, lambda s: s["loads"].update(surcharge={"mean": 10, "sd": 2, "basis": "guess"})),
    "unknown_varies": (BOX, lambda s: s["loads"].update(surcharge={"mean": 10, "sd": 2, "varies": "daily"})),
    "period_a_number": (BOX, lambda s: s["water"]["aquifer"]["head"].update(period=1)),
    "shared_a_number": (BOX, lambda s: s["water"]["aquifer"]["head"].update(shared=0.1)),
    "data_elsewhere": (BOX, lambda s: s["water"]["aquifer"]["head"].update(data="/etc/heads.csv")),
    "made_of_wood": (BOX, lambda s: s["works"]["props"]["top_frame"].update(made="timber")),
    "cast_a_roof": (BOX, lambda s: s["stages"]["base"].update(cast="roof")),
    "phase_unknown": (BOX, lambda s: s["stages"]["service"].update(phase="final")),
    "install_a_number": (BOX, lambda s: s["stages"]["dig_b"].update(install=3)),
    "lasts_a_number": (BOX, lambda s: s["stages"]["dig_b"].update(lasts=3)),
    "carried_maybe": (BOX, lambda s: s["works"]["slab"].update(carries_walls="maybe")),
    "beta_out_of_range": (BOX, lambda s: s["targets"]["temporary"].update(beta=12)),
    "class_unknown": (BOX, lambda s: s["targets"]["permanent"].update(consequence_class="CC4")),
    "period_unknown": (BOX, lambda s: s["targets"]["permanent"].update(period="2 years")),
    "dependence_of_three": (BOX, lambda s: s["dependence"][0]["between"].append("water.table")),
    "correlation_too_strong": (BOX, lambda s: s["dependence"][0].update(correlation=1.5)),
    "event_in_no_stage": (BOX, lambda s: s.update(events={"e": event(stages=[])})),
    "event_without_basis": (BOX, lambda s: s.update(events={"e": {**event(), "basis": None}})),
    "event_certain": (BOX, lambda s: s.update(events={"e": event(probability=1)})),
    "event_rate_a_number": (BOX, lambda s: s.update(events={"e": event(rate=0.1)})),
    "model_choice_a_list": (BOX, lambda s: s.update(models={"base_heave": {"governing": ["bearing"]}})),
    "model_factor_of_zero": (BOX, lambda s: s.update(model_factors={"base_heave": {"bearing": 0}})),
    "sections_none": (SECTIONS, lambda s: s.update(sections={})),
    "sections_a_list": (SECTIONS, lambda s: s.update(sections=["west", "east"])),
    "section_a_null": (SECTIONS, lambda s: s["sections"].update(west=None)),
    "section_with_a_title": (SECTIONS, lambda s: s["sections"]["west"].update(title="West")),
    "section_misspelt_within": (SECTIONS, lambda s: s["sections"]["portal"]["works"]["wall"].update(te=-2)),
    "section_with_half_a_number": (
        SECTIONS,
        lambda s: s["sections"]["east"]["ground"]["strata"]["clay"].update(su={"mean": 40}),
    ),
    "section_bad_name": (SECTIONS, lambda s: s["sections"].update({"East end": {}})),
}


def event(**changes: Any) -> dict[str, Any]:
    stated = {"stages": ["dig_b"], "water": {"drawdown": 0}, "basis": "judgement", "source": "us"}
    return {**stated, **({} if "rate" in changes else {"probability": 0.01}), **changes}


def faults(study: Any) -> str:
    """Return what riskcut says of a study given as a tree (JSON is YAML), nothing where it is in order."""
    try:
        parse_study("study.yaml", json.dumps(study).encode(), {}.get)
    except StudyError as error:
        return str(error)
    return ""


@pytest.mark.parametrize("name", WRONG)
def test_a_bad_shape_is_refused_by_riskcut_and_by_the_schema(name: str) -> None:
    file, spoil = WRONG[name]
    study = loaded(file)
    assert VALIDATOR.is_valid(study)
    assert faults(study) == ""
    spoil(study)
    assert faults(study)
    assert not VALIDATOR.is_valid(study)


# Each keeps a study in order, and uses a way to write that the demonstrations do not.
RIGHT: dict[str, tuple[Path, Callable[[Any], Any]]] = {
    "units": (BOX, lambda s: s["works"]["wall"].update(thickness="800 mm", toe="-12 m", unit_weight="24 kN m^-3")),
    "strength_one_number": (BOX, lambda s: (s.pop("dependence"), s["ground"]["strata"]["clay"].update(su="35 kPa"))),
    "strength_uncertain": (
        BOX,
        lambda s: (s.pop("dependence"), s["ground"]["strata"]["clay"].update(su={"low": 30, "high": 40})),
    ),
    "cov_in_per_cent_signs": (BOX, lambda s: s["loads"].update(surcharge={"mean": "10 kPa", "cov": "10 %"})),
    "one_name_in_a_list": (BOX, lambda s: s["stages"]["strip"].update(remove=["low_frame"])),
    "edge_loads": (
        BOX,
        lambda s: s["loads"].update(edge={"rig": {"pressure": 40, "distance": 1, "width": 4}, "stores": {
            "pressure": {"mean": 20, "sd": 2}, "distance": 0, "width": 3, "length": 5}}),
    ),
    "no_edge_loads": (BOX, lambda s: s["stages"]["base"].update(loads={"edge": {}})),
    "event": (BOX, lambda s: s.update(events={"e": event(rate="0.1 per year")})),
    "models": (BOX, lambda s: s.update(models={"base_heave": {"governing": "bearing"}, "x": {"y": 3}})),
    "rank": (BOX, lambda s: s["dependence"][0].update(rank_correlation=s["dependence"][0].pop("correlation"))),
    "own_target": (BOX, lambda s: s["stages"]["dig_c"].update(target={"beta": "2.5"})),
    "section_takes_away": (SECTIONS, lambda s: s["sections"]["west"].update(
        works={"wall": None, "props": None}, stages={"first": {"install": None}})),
    "section_changes_part_of_a_strength": (
        SECTIONS,
        lambda s: (
            s["ground"]["strata"]["clay"].update(su={"at_top": 50, "per_metre": 1}),
            s["sections"]["east"]["ground"]["strata"]["clay"].update(su={"per_metre": 2}),
        ),
    ),
    "each_section_brings_its_cut": (
        SECTIONS,
        lambda s: [
            section.setdefault("works", {}).update(cut=cut)
            for cut in [s["works"].pop("cut")]
            for section in s["sections"].values()
        ],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", RIGHT)
def test_what_riskcut_reads_the_schema_accepts(name: str) -> None:
    file, change = RIGHT[name]
    study = copy.deepcopy(loaded(file))
    change(study)
    assert faults(study) == ""
    assert [error.message for error in VALIDATOR.iter_errors(study)] == []


FIGURES = st.one_of(
    st.floats(-50, 250).map(lambda x: round(x, 3)),
    st.integers(-5, 70),
    st.sampled_from([0, 1, 1e9, 1e13, -1e13]),
)
UNITS = st.sampled_from(
    ["", " ", "m", "mm", "kPa", "MPa", "kN/m3", "kN m-3", "kN/m^3", "kN·m⁻³", "kPa/m", "deg", "°", "%", "per cent",
     "degC", "1/degC", "GPa", "kN", "MN", "m2", "m²", "months", "furlong", "a stone's throw", ";"]
)  # fmt: skip
TEXTS = st.builds(
    lambda figure, gap, unit: f"{figure}{gap}{unit}", FIGURES, st.sampled_from(["", " "]), UNITS
)
PARTS = {
    "mean": st.one_of(FIGURES, TEXTS),
    "sd": st.one_of(st.floats(0, 3), TEXTS),
    "cov": st.one_of(st.floats(0, 4), st.sampled_from(["10 %", "0.2", "5 per cent"])),
    "low": FIGURES,
    "high": FIGURES,
    "dist": st.sampled_from(["normal", "lognormal", "gumbel", "uniform", "beta"]),
    "varies": st.sampled_from(["constant", "per_stage", "per_section", "often"]),
    "period": st.sampled_from(["1 year", "6 months", "1", "year", 1]),
    "shared": st.sampled_from([{"sd": 0.1}, {"sd": "5 mm"}, {}, 0.1, {"sd": 0.1, "cov": 1}]),
    "basis": st.sampled_from(["measured", "guess"]),
    "source": st.sampled_from(["a test", "", 4]),
    "data": st.sampled_from(["a.csv", "/a.csv", ""]),
}
SPREADS = st.sampled_from(
    [("mean", "sd"), ("mean", "cov"), ("low", "high"), ("mean",), ("mean", "sd", "cov"), ()]
)
UNCERTAIN = SPREADS.flatmap(
    lambda keys: st.fixed_dictionaries(
        {key: PARTS[key] for key in keys}, optional={key: PARTS[key] for key in PARTS if key not in keys}
    )
)
NUMBERS = st.one_of(FIGURES, TEXTS, UNCERTAIN, st.none(), st.booleans(), st.just([]), st.just("a lot"))


@pytest.mark.parametrize("measure", MEASURES, ids=MEASURES.get)
@settings(deadline=None, max_examples=60)
@given(data=st.data())
def test_a_number_that_a_measure_reads_is_never_refused(measure: Measure, data: st.DataObject) -> None:
    stated = data.draw(NUMBERS)
    try:
        measure.read(stated)
    except ValueError:
        return
    assert definition(MEASURES[measure]).is_valid(stated)


@pytest.mark.parametrize("measure", MEASURES, ids=MEASURES.get)
@settings(deadline=None, max_examples=60)
@given(figure=st.one_of(FIGURES, st.floats(0, 1)))
def test_a_bare_figure_is_refused_exactly_where_the_measure_refuses_it(
    measure: Measure, figure: float
) -> None:
    try:
        measure.read(figure)
        read = True
    except ValueError:
        read = False
    assert definition(MEASURES[measure]).is_valid(figure) == read


ALIASES = {
    name: alias
    for name, alias in vars(fields).items()
    if any(note in READERS for note in getattr(alias, "__metadata__", ()) if not isinstance(note, Measure))
}
WORDS = st.one_of(
    st.sampled_from(["", " ", "a name", "2 months", "2", "50 years", "stage", "1 year", "0.2 per year", "3/week",
                     "0 per day", " 1 per month ", "0.5", "-0.5", "1e-3", "11", "months", ".5 years", "1e2 days"]),
    st.lists(st.sampled_from(["a", "b.c", " ", 3]), max_size=3),
    st.booleans(),
    st.none(),
    st.floats(-12, 12),
    st.integers(-12, 12),
)  # fmt: skip


def test_every_reader_of_the_fields_has_a_form() -> None:
    assert len(ALIASES) == len(READERS) == 13


@pytest.mark.parametrize("name", ALIASES)
@settings(deadline=None, max_examples=80)
@given(stated=WORDS)
def test_a_word_that_a_field_reads_is_never_refused(name: str, stated: Any) -> None:
    alias = ALIASES[name]
    form = next(READERS[note] for note in alias.__metadata__ if note in READERS)
    try:
        TypeAdapter(alias).validate_python(stated)
    except ValidationError:
        return
    assert Draft202012Validator({**form, "$defs": SCHEMA["$defs"]}).is_valid(stated)


def test_no_definition_describes_itself_and_each_is_used() -> None:
    text = json.dumps(SCHEMA)
    for name, form in SCHEMA["$defs"].items():
        assert "description" not in form, name
        assert f'"#/$defs/{name}"' in text, name


def test_every_measure_has_a_definition() -> None:
    named = {name for name, alias in vars(measures).items() if hasattr(alias, "__metadata__")}
    assert named == set(MEASURES.values())
    assert named <= set(SCHEMA["$defs"])
