"""Numbers that a study takes from data: the column that is meant, what is fitted, what is refused."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from pydantic import TypeAdapter, ValidationError
from scipy import stats
from study_texts import BOX, changed, read

from riskcut.study.compiling import Compiled, compile_study
from riskcut.study.errors import StudyError
from riskcut.study.json_schema import study_schema
from riskcut.study.measures import Level, Pressure, Strength
from riskcut.study.quantity import Quantity
from riskcut.study.reading import parse_study
from riskcut.uncertainty.empirical import Empirical
from riskcut.uncertainty.fitting import FITTED, FittingError, fit
from riskcut.uncertainty.marginal import MarginalError

DEFINITIONS = study_schema()["$defs"]
HEAD = "{dist: gumbel, mean: 1.5, sd: 0.2, period: 1 year, shared: {sd: 0.05}}"
TEN = (31.0, 29.5, 28.0, 34.5, 30.0, 33.0, 27.5, 32.5, 29.0, 31.5)


def number(given: Any, file: str | bytes, measure: Any = Strength) -> Quantity:
    content = file.encode() if isinstance(file, str) else file
    context: Callable[[str], bytes | None] = {"tests.csv": content}.get
    quantity: Quantity = TypeAdapter(measure).validate_python(given, context=context)
    return quantity


def said(given: Any, file: str | bytes, measure: Any = Strength) -> list[tuple[tuple[str, ...], str, str]]:
    with pytest.raises(ValidationError) as raised:
        number(given, file, measure)
    faults: list[tuple[tuple[str, ...], str, str]] = raised.value.errors()[0]["ctx"]["faults"]
    return faults


def lines(values: Any, header: str = "su") -> str:
    return "\n".join([header, *map(str, values)])


def of(kind: str, **more: Any) -> dict[str, Any]:
    return {"fit": kind, "data": "tests.csv", **more}


@pytest.mark.parametrize(
    ("file", "column"),
    [
        (lines(TEN), None),
        ("\n".join(map(str, TEN)), None),
        ("# A remark, with commas, of any, length\n\n" + lines(TEN) + "\n\n", None),
        ("\ufeff" + lines(TEN), "su"),
        (lines(TEN).replace("\n", "\r\n"), "su"),
        (lines((f"BH{i}, {x}" for i, x in enumerate(TEN)), "hole , su"), None),
        (lines((f'"a, b";{x};x{i}' for i, x in enumerate(TEN)), "where;su;sample"), None),
        (lines((f"{i}\t{x}" for i, x in enumerate(TEN)), "test\tsu"), "su"),
        (lines(f"{x / 1000:.4f} MPa" for x in TEN), "su"),
        (lines((f"2024-05-{i + 10},{x}" for i, x in enumerate(TEN)), "day,su"), None),
    ],
    ids=["header", "bare", "remarks", "mark", "returns", "names", "semicolons", "tabs", "units", "days"],
)
def test_the_column_that_is_meant(file: str, column: str | None) -> None:
    given = of("normal") if column is None else of("normal", column=column)
    quantity = number(given, file)
    assert quantity.from_data is not None
    assert quantity.from_data.values == pytest.approx(TEN, rel=1e-12)
    assert quantity.value == pytest.approx(np.mean(TEN), rel=1e-12)
    assert quantity.sd == pytest.approx(np.std(TEN), rel=1e-12)  # likeliest: divided by n, not n - 1
    assert (quantity.data, quantity.unit) == ("tests.csv", "kPa")


def test_a_unit_of_the_column() -> None:
    in_mpa = lines(f"{x / 1000:.4f}" for x in TEN)
    assert number(of("normal", unit="MPa"), in_mpa).value == pytest.approx(np.mean(TEN))
    mixed = in_mpa.replace("0.0310", "31 kPa")  # a cell's own unit goes before that of the column
    assert number(of("normal", unit="MPa"), mixed).value == pytest.approx(np.mean(TEN))
    levels = lines(["\N{MINUS SIGN}1.5 m", "-1.2 m", "-1400", "\N{MINUS SIGN}1300", "-1600"], "level")
    assert number(of("normal", unit="mm"), levels, Level).value == pytest.approx(-1.4)
    assert said(of("normal", unit=""), in_mpa)[0][0] == ("unit",)
    assert said(of("normal", unit=3), in_mpa)[0][0] == ("unit",)


@pytest.mark.parametrize(
    ("file", "given", "at", "words", "wanted"),
    [
        ("", of("normal"), "data", "a file without a line", "a header line"),
        ("# nothing\n", of("normal"), "data", "a file without a line", "a header line"),
        (b"su\n3\n\xff4\n", of("normal"), "data", "not UTF-8 in line 3", "UTF-8"),
        ("1,2\n3,4\n", of("normal"), "data", "2 columns without a header line", "a header line"),
        ("1\n3\n", of("normal", column="su"), "column", "'su'", "no column"),
        ("su,su\n3,4\n", of("normal", column="su"), "column", "which the header has twice", "another name"),
        ("a,b\nx,y\n", of("normal"), "", "no column of numbers", "column: one of a, b"),
        ("su\n3\n\n4;5\n", of("normal"), "data", "'4;5' in line 4", "a number"),
        (lines([*TEN, -3]), of("normal"), "data", "-3 in line 12 of the file", "above 0"),
        (lines([*TEN, "nan"]), of("normal"), "data", "'nan' in line 12", "a number"),
        (lines([7] * 9), of("normal"), "data", "9 values that give no normal number", "certain number"),
        (lines(TEN), of("empirical"), "data", "10 values that give no empirical number", "20 or more"),
        (lines(TEN), {"fit": "normal", "data": "other.csv"}, "data", "'other.csv'", "a file that is there"),
        (lines(TEN), {"fit": "normal", "data": "/tests.csv"}, "data", "'/tests.csv'", "relative"),
        (lines(TEN), of(3), "fit", "3", "one of normal"),
        (lines(TEN), of("beta"), "fit", "'beta'", "its ends are not known"),
        (lines(TEN), of("cauchy"), "fit", "'cauchy'", "one of normal"),
        (lines(TEN), of("normal", period="a while"), "period", "'a while'", "a duration"),
        (lines(TEN), of("normal", basis="guess"), "basis", "'guess'", "one of measured"),
    ],
)  # fmt: skip
def test_refusals(file: str | bytes, given: dict[str, Any], at: str, words: str, wanted: str) -> None:
    ((where, told, says),) = said(given, file)
    assert where == ((at,) if at else ())
    assert words in told
    assert wanted in says


def test_without_any_file_at_hand_the_file_is_missing() -> None:
    with pytest.raises(ValidationError) as raised:
        TypeAdapter(Strength).validate_python(of("normal"))
    assert "a file that is there" in raised.value.errors()[0]["ctx"]["faults"][0][2]


def test_every_fault_of_the_entries_is_told_at_once() -> None:
    faults = said(of("cauchy", unit="kN", period=1, basis="guess", column=" "), lines(TEN))
    assert {at for at, _, _ in faults} == {("fit",), ("unit",), ("period",), ("basis",), ("column",)}


def test_too_much_beyond_a_bound() -> None:
    spread = [0.5, 30.0, 12.0, 1.0, 0.2, 8.0, 22.0, 5.0]
    ((at, given, _),) = said(of("normal"), lines(spread), Pressure)
    below = stats.norm(np.mean(spread), np.std(spread)).cdf(0.0)
    assert at == ("fit",)
    assert given == f"a normal number fitted to 8 values, {100 * below:.2g} % of it below 0"
    assert number(of("gamma"), lines(spread), Pressure).kind == "gamma"
    assert number(of("normal"), lines(spread), Level).kind == "normal"


def test_an_empirical_number_is_its_data() -> None:
    values = np.round(np.random.default_rng(2).gamma(9.0, 4.0, 40), 2)
    quantity = number(of("empirical", varies="constant"), lines(values))
    assert quantity.kind == "empirical"
    assert quantity.marginal == Empirical(values)
    assert (quantity.value, quantity.sd) == (Empirical(values).mean, Empirical(values).sd)
    assert quantity.varies == "constant"


VALUES = st.lists(
    st.one_of(st.floats(0.1, 90.0), st.floats(20.0, 20.0001), st.sampled_from([1e-9, 1.0, 1e6, 1e11])),
    max_size=30,
)


@settings(deadline=None, max_examples=120)
@given(kind=st.sampled_from([*FITTED, "empirical"]), values=VALUES)
def test_any_column_gives_a_number_to_draw_from_or_one_fault(kind: str, values: list[float]) -> None:
    given = of(kind)
    assert Draft202012Validator({"$ref": "#/$defs/Level", "$defs": DEFINITIONS}).is_valid(given)
    try:
        quantity = number(given, lines(values, "level"), Level)
    except ValidationError as error:
        ((_, words, wanted),) = error.errors()[0]["ctx"]["faults"]
        assert "\n" not in words + wanted
        return
    marginal = quantity.marginal
    assert marginal.kind == quantity.kind == kind
    assert (marginal.mean, marginal.sd) == pytest.approx((quantity.value, quantity.sd), rel=1e-9)
    x = marginal.from_normal(np.array([-3.0, 0.0, 3.0]))
    assert np.all(np.isfinite(x))
    assert x[0] <= x[1] <= x[2]


def with_head(head: str, data: bytes = b"") -> Compiled:
    text = changed(BOX, (HEAD, head))
    study = read(text, {"gauge.csv": data})
    return compile_study(study, lambda _block: {})


@settings(deadline=None, max_examples=25)
@given(
    kind=st.sampled_from(["gumbel", "gev"]),
    seed=st.integers(0, 10_000),
    size=st.integers(20, 60),
    scale=st.floats(0.05, 0.6),
)
def test_the_fitted_parameters_stated_give_the_same_columns(
    kind: str, seed: int, size: int, scale: float
) -> None:
    values = np.random.default_rng(seed).gumbel(1.2, scale, size)
    more = "period: 1 year, shared: {sd: 0.05}, basis: measured"
    head, data = f"{{fit: {kind}, data: gauge.csv, {more}}}", lines(values, "level").encode()
    try:
        fit(kind, values)
    except (FittingError, MarginalError):  # a shape that has no maximum, or no standard deviation
        with pytest.raises(StudyError, match=f"give no {kind} number"):
            with_head(head, data)
        return
    fitted = with_head(head, data)
    quantity = next(c.quantity for c in fitted.columns if c.address == "water.aquifer.head")
    parameters = ", ".join(f"{name}: {value!r}" for name, value in quantity.parameters.items())
    stated = with_head(f"{{dist: {kind}, {parameters}, {more}}}")
    assert fitted.drivers == stated.drivers
    assert fitted.means == stated.means
    for one, other in zip(fitted.columns, stated.columns, strict=True):
        assert (one.address, one.section, one.stage, one.driver, one.periods) == (
            (other.address, other.section, other.stage, other.driver, other.periods)
        )
        assert one.marginal == other.marginal
    assert [t.pattern for t in fitted.templates] == [t.pattern for t in stated.templates]


def test_the_data_are_kept_and_read_once() -> None:
    asked = []

    def files(name: str) -> bytes:
        asked.append(name)
        return lines(TEN, "level").encode()

    text = changed(BOX, (HEAD, "{fit: gumbel, data: gauge.csv, period: 1 year}"))
    study = parse_study("study.yaml", text.encode(), files)
    assert [file.name for file in study.files] == ["study.yaml", "gauge.csv"]
    assert study.files[1].content == lines(TEN, "level").encode()
    assert asked == ["gauge.csv"]


@pytest.mark.parametrize("kind", ["gumbel", "gev", "frechet"])
def test_a_maximum_is_carried_to_the_length_of_each_stage(kind: str) -> None:
    parameters = "location: 1.4, scale: 0.15, shape: -0.1" if kind == "gev" else "mean: 1.5, sd: 0.2"
    study = with_head(f"{{dist: {kind}, {parameters}, period: 1 year}}")
    of_stage = {c.stage: c for c in study.columns if c.address == "water.aquifer.head"}
    yearly, longest = of_stage["dig_b"].marginal, of_stage["service"].marginal
    assert (of_stage["dig_b"].periods, of_stage["service"].periods) == (1.0, 50.0)
    x = np.linspace(1.6, 4.0, 7)
    assert longest.cdf(x) == pytest.approx(yearly.cdf(x) ** 50, rel=1e-9)
    place = study.columns.index(of_stage["service"])
    assert study.means[place] == longest.mean > yearly.mean


@pytest.mark.parametrize(
    "given",
    [
        {"fit": "gev"},
        {"data": "tests.csv"},
        of("uniform"),
        of("gev", mean=3),
        of("gev", dist="gev"),
        of("gev", column=4),
        {"mean": 3, "sd": 0.1, "data": "tests.csv", "column": "su"},
        {"dist": "empirical", "data": "tests.csv"},
    ],
    ids=str,
)
def test_what_is_refused_for_its_keys_an_editor_marks_too(given: dict[str, Any]) -> None:
    assert said(given, lines(TEN), Level)
    assert not Draft202012Validator({"$ref": "#/$defs/Level", "$defs": DEFINITIONS}).is_valid(given)
