"""From nothing to results: every template is in order, answers, and is written without harm to what is there."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from ruamel.yaml import YAML

from riskcut.analysis.binding import bind
from riskcut.analysis.running import Settings, analyse
from riskcut.cli.check import report
from riskcut.cli.main import commands
from riskcut.cli.new import NewStudyError, sentence, templates, write
from riskcut.cli.schema import MODELINE, SCHEMA, SchemaFileError
from riskcut.cli.schema import write as write_schema
from riskcut.mechanisms import catalogue
from riskcut.results.status import Status
from riskcut.study.measures import Level, Pressure, Strength
from riskcut.study.reading import read_study
from riskcut.study.walk import quantities

TEMPLATES = templates()


@pytest.fixture
def written(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    """Return the study that ``new`` wrote of a situation."""
    file = tmp_path / "study.yaml"
    write(request.param, file)
    return file


def call(*arguments: object) -> Result:
    return CliRunner().invoke(commands, [*map(str, arguments)])


def test_there_are_six_situations():
    assert set(TEMPLATES) == {
        "box_over_aquifer",
        "finished_box",
        "open_cut",
        "propped_cut",
        "road_cut",
        "sand_cut",
    }


@pytest.mark.parametrize("written", TEMPLATES, indirect=True)
def test_a_template_is_in_order_and_every_uncertain_number_states_its_basis(written):
    content = json.loads(report(written, as_json=True))
    assert content["uncertain_inputs"]
    bare = [name for name, entry in content["uncertain_inputs"].items() if entry["basis"] == "not_stated"]
    assert bare == []
    for section in read_study(written).sections:
        for _, quantity, _ in quantities(section.study):
            assert quantity.source or not quantity.uncertain
            assert quantity.data is None  # there would have to be a file beside it


@pytest.mark.parametrize("written", TEMPLATES, indirect=True)
def test_a_template_answers_with_margins_worth_looking_at(written):
    small = {"pilot_blocks": 1, "cap_blocks": 2, "base_rows": 32, "scrambles": 2}
    group = analyse(read_study(written), Settings(**small))["reliability"].dataset
    governs = group["governing"].values.astype(bool)
    safety = group["factor_of_safety_at_means"].values[governs]
    safety = safety[np.isfinite(safety)]
    assert safety.size
    assert 1.05 < safety.min() < 2.5
    # Where the water table is certain, so is what it does not run over.
    able = governs & ~np.char.startswith(group["limit_state"].values.astype(str), "overtopping")
    assert not (group["status"].values[able] == Status.CANNOT_FAIL).any()
    status = group["status"].values[governs]
    assert not (status == Status.UNTRUSTED).any()
    known = group["failure_probability"].values[governs]
    assert (known[~np.isnan(known)] < 0.01).all()
    assert group["impossible_rows"].values.sum() == 0


def test_between_them_the_templates_show_every_mechanism():
    shown = set()
    for template in TEMPLATES.values():
        bound = bind(read_study(Path(str(template))))
        shown |= {state.label.split("/")[0] for block in bound.blocks for state in block.applying}
    assert shown == set(catalogue())


@pytest.mark.parametrize("name", TEMPLATES)
def test_a_template_begins_with_its_sentence_and_the_line_for_editors(name):
    lines = TEMPLATES[name].read_text(encoding="utf-8").splitlines()
    assert lines[0] == f"# {sentence(TEMPLATES[name])}"
    assert sentence(TEMPLATES[name]).endswith(".")
    assert lines[1] == MODELINE
    assert max(map(len, lines)) <= 120
    assert sum("#" in line for line in lines) > 0.35 * len(lines)


@pytest.mark.parametrize("name", TEMPLATES)
def test_the_ways_to_state_a_number_that_the_comments_teach_are_read(name):
    taught = [
        line.strip("# ").partition("}")[0] + "}"
        for line in TEMPLATES[name].read_text(encoding="utf-8").splitlines()
        if line.startswith("#   {")
    ]
    kinds = [
        measure.__metadata__[0].read(YAML(typ="safe").load(form)).kind
        for form, measure in zip(taught, (Level, Strength, Level, Pressure), strict=True)
    ]
    assert kinds == ["normal", "lognormal", "uniform", "gumbel"]


def test_new_writes_the_template_and_the_schema_and_says_what_is_next(riskcut, tmp_path):
    done = riskcut("new", "open_cut")
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "Next: riskcut check open_cut.yaml, then riskcut run open_cut.yaml"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["open_cut.yaml", SCHEMA]
    assert (tmp_path / "open_cut.yaml").read_bytes() == TEMPLATES["open_cut"].read_bytes()
    assert (tmp_path / SCHEMA).read_text(encoding="utf-8") == riskcut("schema").stdout
    assert riskcut("check", "open_cut.yaml").returncode == 0


def test_new_never_overwrites(riskcut, tmp_path):
    (tmp_path / "mine.yaml").write_text("mine")
    done = riskcut("new", "open_cut", "mine.yaml")
    assert done.returncode == 2
    assert done.stdout == ""
    assert "mine.yaml: given a file that is there already" in done.stderr
    assert "riskcut new open_cut FILE" in done.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["mine.yaml"]
    assert (tmp_path / "mine.yaml").read_text() == "mine"


def test_an_unknown_situation_is_told_with_what_is_near_and_the_list(riskcut, tmp_path):
    done = riskcut("new", "sand-cut")
    assert done.returncode == 2
    assert "given the situation 'sand-cut'" in done.stderr
    assert "did you mean sand_cut" in done.stderr
    for name in TEMPLATES:
        assert f"\n{name}  " in done.stderr
    assert [*tmp_path.iterdir()] == []


def test_no_situation_is_told_with_the_list():
    done = call("new")
    assert isinstance(done.exception, NewStudyError)
    assert done.exception.exit_code == 2
    assert "road_cut" in str(done.exception)


def test_list_tells_each_situation_in_its_own_sentence():
    done = call("new", "--list")
    assert done.exit_code == 0
    told = " ".join(done.output.split())
    for name, template in TEMPLATES.items():
        assert f"{name} {sentence(template).split(':')[0]}" in told.replace("long- term", "long-term")


def test_a_folder_in_the_way_or_missing_is_told(tmp_path):
    with pytest.raises(NewStudyError, match=r"given a folder; wanted a file, such as .*open_cut\.yaml"):
        write("open_cut", tmp_path)
    with pytest.raises(NewStudyError, match="given a folder that is not there"):
        write("open_cut", tmp_path / "none" / "study.yaml")
    with pytest.raises(NewStudyError, match="given "):
        write("open_cut", tmp_path / ("x" * 300))
    assert [*tmp_path.iterdir()] == []


def test_a_schema_that_is_there_is_left_alone(tmp_path):
    assert f"Written: {tmp_path / SCHEMA}" in write("open_cut", tmp_path / "a.yaml")
    assert f"There already: {tmp_path / SCHEMA}" in write("sand_cut", tmp_path / "b.yaml")
    (tmp_path / SCHEMA).write_text('{"$schema": "of old"}')
    assert f"riskcut schema --out {tmp_path / SCHEMA}" in write("road_cut", tmp_path / "c.yaml")
    assert (tmp_path / SCHEMA).read_text() == '{"$schema": "of old"}'
    write_schema(tmp_path / SCHEMA)
    assert f"There already: {tmp_path / SCHEMA}" in write("road_cut", tmp_path / "d.yaml")


def test_a_folder_in_the_place_of_the_schema_keeps_no_study_from_being_written(tmp_path):
    (tmp_path / SCHEMA).mkdir()
    assert f"Not written: {tmp_path / SCHEMA}" in write("open_cut", tmp_path / "a.yaml")
    assert (tmp_path / "a.yaml").exists()


def test_a_name_with_a_space_is_quoted_in_what_is_next(tmp_path):
    assert write("open_cut", tmp_path / "my cut.yaml").endswith(f"riskcut run '{tmp_path / 'my cut.yaml'}'")


def test_schema_is_not_written_over_a_study_or_where_it_cannot_be(tmp_path):
    write("open_cut", tmp_path / "a.yaml")
    for place in (tmp_path / "a.yaml", tmp_path, tmp_path / "none" / "s.json"):
        with pytest.raises(SchemaFileError, match=r"wanted a file") as raised:
            write_schema(place)
        assert raised.value.exit_code == 2
    assert (tmp_path / "a.yaml").read_bytes() == TEMPLATES["open_cut"].read_bytes()
