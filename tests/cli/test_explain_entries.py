"""``riskcut explain ADDRESS``: what it says of an entry can be written, and every entry has an answer."""

from __future__ import annotations

import math

import pytest
from ruamel.yaml import YAML

from riskcut.cli import entries
from riskcut.cli.explain import UnknownNameError, explain
from riskcut.cli.new import templates
from riskcut.study.errors import address
from riskcut.study.json_schema import measure_of
from riskcut.study.reading import parse_study
from riskcut.study.schema import Entry


def numbers() -> list[tuple[type[Entry], str]]:
    def classes(model: type[Entry]) -> list[type[Entry]]:
        return [model, *(found for below in model.__subclasses__() for found in classes(below))]

    return [
        (model, name)
        for model in dict.fromkeys(classes(Entry))
        for name in model.model_fields
        if measure_of(model, name) is not None
    ]


@pytest.mark.parametrize(("model", "name"), numbers(), ids=lambda part: getattr(part, "__name__", part))
@pytest.mark.parametrize("action", [True, False], ids=["action", "no_action"])
def test_every_form_that_is_shown_is_read(model, name, action):
    measure = measure_of(model, name)
    middle = float(measure.example.partition(" or ")[0])
    values = [middle * (1.0 - 0.02 * math.log(-math.log((i + 0.5) / 40))) for i in range(40)]
    files = {"records.csv", "tests.csv"}
    data = "\n".join([name, *map(str, values)]).encode()
    forms = [YAML(typ="safe").load(form)[name] for form in entries._forms(name, measure, action=action)]
    kinds = [measure.read(form, lambda file: data if file in files else None).kind for form in forms]
    assert kinds[0] == "certain"
    assert {"normal", "uniform", *(["gumbel", "gev"] if action else [])} <= set(kinds)
    assert ("lognormal" in kinds) != measure.datum
    (fitted,) = [form for form in forms if isinstance(form, dict) and "fit" in form]
    assert ("period" in fitted) == action


@pytest.mark.parametrize("situation", templates())
def test_every_address_of_a_study_has_an_answer(situation):
    source = parse_study("study.yaml", templates()[situation].read_bytes(), {}.get).source
    for path in source.lines:
        if path[0] == "dependence" or len(path) < 2:
            continue
        name = address(path)
        if name.startswith("sections.") and len(path) == 2:
            continue
        if any(part.isdigit() for part in name.split(".")):
            continue  # an item of a list
        told = explain(name, as_json=False)
        assert len(told.splitlines()) >= 2, name


def test_a_number_is_told_with_meaning_unit_and_forms():
    told = explain("water.aquifer.head", as_json=False)
    for said in ("piezometric level", "in m above the site datum", "dist: gumbel", "period: 1 year", "basis"):
        assert said in told
    assert "cov" not in told
    assert "fit: gev, data: records.csv, column: head, period: 1 year" in told
    assert "empirical takes the numbers as they are, and has no tails" in " ".join(told.split())
    assert explain("water.aquifer.head.column", as_json=False) == told
    assert explain("water.aquifer.head.shared", as_json=False) == told
    assert explain("sections.west.water.aquifer.head", as_json=False) == told


def test_a_mapping_is_told_with_its_keys_and_those_that_it_needs():
    told = explain("works.slab", as_json=False)
    assert "\n* thickness" in told
    assert "\n  heave_relief" in told
    assert "may be left out" in told.splitlines()[0]
    assert "may be left out" not in explain("works.cut", as_json=False).splitlines()[0]


def test_a_misspelt_address_is_told_with_what_is_near():
    with pytest.raises(UnknownNameError, match=r"did you mean works\.slab\.heave_relief") as raised:
        explain("works.slab.heave_releif", as_json=False)
    assert raised.value.exit_code == 2
    for name in ("", ".", "..", "works.", "a.b.c"):
        with pytest.raises(UnknownNameError, match=r"such as works\.slab\.thickness"):
            explain(name, as_json=False)


def test_explain_on_the_command_line(riskcut):
    done = riskcut("explain", "works.props.upper.resistance")
    assert done.returncode == 0, done.stderr
    assert "Axial resistance of one prop." in done.stdout
    assert riskcut("explain", "sections").stdout.startswith("sections\n")
    assert '"unit": "kN"' in riskcut("explain", "works.props.upper.resistance", "--json").stdout
