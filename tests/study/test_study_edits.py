"""A study's text edited by chance and by ill will: nothing but located faults, in plain lines, exit code 2."""

from __future__ import annotations

import contextlib
import copy
import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from study_texts import BOX, CUTS, changed

from riskcut.study.compiling import compile_study
from riskcut.study.errors import Fault, StudyError
from riskcut.study.reading import parse_study
from riskcut.study.source import read_source

Place = tuple[Any, ...]


def refused(content: bytes) -> StudyError | None:
    """Return what a study is refused with; one in order must compile and fill as well."""
    try:
        study = compile_study(parse_study("study.yaml", content, lambda _name: None), lambda _block: {})
    except StudyError as error:
        return error
    for template in study.templates:
        template.fill(study.means)
    return None


def told(content: bytes) -> tuple[Fault, ...]:
    """Return what is wrong with a study, each fault with a place in it and in words."""
    error = refused(content)
    if error is None:
        return ()
    assert error.exit_code == 2
    assert error.faults
    lines = max(content.count(b"\n"), content.count(b"\r")) + 1
    for fault in error.faults:
        assert 1 <= fault.line <= lines, fault
        assert fault.given.strip(), fault
        assert fault.wanted.strip(), fault
    assert len(str(error).splitlines()) == len(error.faults)
    assert str(error).replace("\n", " ").isprintable()
    return error.faults


LINES = {name: text.splitlines() for name, text in (("box", BOX), ("cuts", CUTS))}
POOL = sorted({line for lines in LINES.values() for line in lines})
WORDS = [
    *("null", "{}", "[]", "true", "-1", "0", "1e-150", "1e300", "-5", "1e400", ".inf", "0x1F", "2 m", "50 %"),
    *("low", "mean: 1", "sd", "cov", "dist: gumbel", "dist: lognormal", "{low: 1, high: 2}", "per_stage"),
    *(
        "!!float ",
        "!!int ",
        "!!set ",
        "!!omap ",
        "&a ",
        "*a",
        "<<: *a",
        "~",
        "''",
        "#",
        ": ",
        "- ",
        "\t",
        '"',
    ),
    *("|", "? ", "\N{LINE SEPARATOR}", "\N{ZERO WIDTH NO-BREAK SPACE}", "é", "tension_piles", "sections:"),
]


@settings(deadline=None, max_examples=120)
@given(data=st.data(), name=st.sampled_from(sorted(LINES)), times=st.integers(1, 3))
def test_lines_deleted_doubled_exchanged_shifted_and_scribbled_on(
    data: st.DataObject, name: str, times: int
) -> None:
    lines = list(LINES[name])
    for _ in range(times):
        at, other = (data.draw(st.integers(0, len(lines) - 1)) for _ in range(2))
        act = data.draw(st.sampled_from(["delete", "insert", "exchange", "shift", "scribble"]))
        if act == "delete":
            del lines[at]
        elif act == "insert":
            lines.insert(at, data.draw(st.sampled_from(POOL)))
        elif act == "exchange":
            lines[at], lines[other] = lines[other], lines[at]
        elif act == "shift":
            lines[at] = data.draw(st.sampled_from([f"  {lines[at]}", lines[at][2:]]))
        else:
            column = data.draw(st.integers(0, len(lines[at])))
            word = data.draw(st.sampled_from(WORDS))
            lines[at] = lines[at][:column] + word + lines[at][column + data.draw(st.integers(0, 6)) :]
    told("\n".join(lines).encode())


def _mappings(tree: Any, place: Place = ()) -> list[Place]:
    """Return the places of the mappings and lists of a tree that hold at least one entry."""
    entries = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    inner = [found for key, value in entries for found in _mappings(value, (*place, key))]
    return [place, *inner] if isinstance(tree, dict | list) and tree else inner


def _at(tree: Any, place: Place) -> Any:
    for key in place:
        tree = tree[key]
    return tree


TREES = {name: read_source(name, text.encode()).tree for name, text in (("box", BOX), ("cuts", CUTS))}
SPOTS = {
    name: [
        (place, key)
        for place in _mappings(tree)
        for key in (_at(tree, place) if isinstance(_at(tree, place), dict) else range(len(_at(tree, place))))
    ]
    for name, tree in TREES.items()
}


@settings(deadline=None, max_examples=120)
@given(data=st.data(), name=st.sampled_from(sorted(TREES)))
def test_two_entries_that_change_places(data: st.DataObject, name: str) -> None:
    tree = copy.deepcopy(TREES[name])
    (one, key), (two, other) = (data.draw(st.sampled_from(SPOTS[name])) for _ in range(2))
    values = [copy.deepcopy(_at(tree, (*place, k))) for place, k in ((one, key), (two, other))]
    _at(tree, one)[key] = values[1]
    with contextlib.suppress(KeyError, IndexError, TypeError):  # the second stood within the first
        _at(tree, two)[other] = values[0]
    told(json.dumps(tree, indent=1).encode())


def test_two_stages_that_change_places_are_told_of_the_works_that_cannot_be_done() -> None:
    stages = list(TREES["box"]["stages"].items())
    orders = 0
    for index in range(len(stages) - 1):
        order = [*stages[:index], stages[index + 1], stages[index], *stages[index + 2 :]]
        tree = {**TREES["box"], "stages": dict(order)}
        faults = told(json.dumps(tree, indent=1).encode())
        names = [stages[index][0], stages[index + 1][0]]
        # Only these neighbours may be exchanged: the others need what the one before has done.
        if names in (["frame_a", "dig_b"], ["base", "strip"], ["strip", "service"]):
            orders += 1
            assert faults == (), names
        else:
            assert faults, names
            assert {fault.path.split(".")[0] for fault in faults} <= {"stages", "works"}
    assert orders == 3


HUGE = "0x" + "F" * 5000
"""YAML reads it; Python refuses to write it out in decimals."""
DEEP = "x0: &x0 {a: 1}\n" + "".join(
    f"x{i}: &x{i} " + "{a: " * 40 + f"*x{i - 1}" + "}" * 40 + "\n" for i in range(1, 20)
)
"""No line of it is deep, but the aliases are, one in another."""


@pytest.mark.parametrize(
    ("old", "new", "line", "path", "given"),
    [
        ("  table: 2.0", f"  table: {HUGE}", 26, "water.table", "a whole number of hundreds of digits"),
        (
            "title: Gullmere",
            f"? {HUGE}\n: 1\ntitle: Gullmere",
            1,
            "",
            "a whole number of thousands of digits",
        ),
        ("title: Gullmere", f"? [{HUGE}]\n: 1\ntitle: Gullmere", 1, "", "a whole number of thousands of"),
        ("  table: 2.0", "  table: " + "[" * 60 + "]" * 60, 26, "", "entries nested too deep to read"),
        ("  table: 2.0", "  table: !!int", 1, "", "a value that YAML cannot read"),
        ("  table: 2.0", "  table: !!float", 1, "", "a value that YAML cannot read"),
        ("  table: 2.0", "  table: !!set 2.0", 1, "", "a value that YAML cannot read"),
        ("  table: 2.0", "  table: 2.0\n  table: 3\n  x: !!int", 27, "table", "the key table twice"),
        ("loads:\n", DEEP + "loads:\n", 32, "", "entries nested too deep to read"),
    ],
    ids=["number", "key", "list_key", "lists", "int", "float", "set", "twice", "aliases"],
)
def test_what_would_be_too_much_for_the_reader(old: str, new: str, line: int, path: str, given: str) -> None:
    (fault,) = told(changed(BOX, (old, new)).encode())
    assert (fault.path, fault.given[: len(given)]) == (path, given)
    assert fault.line == line


@pytest.mark.parametrize("whole", [HUGE, f"- {HUGE}", f"[[{HUGE}]]"])
def test_a_file_that_is_one_such_number_is_no_study(whole: str) -> None:
    (fault,) = told(whole.encode())
    assert fault.line == 1


@pytest.mark.parametrize(
    ("key", "written"),
    [
        (r"no\nte", r"no\nte"),
        (r"no\rte", r"no\rte"),
        (r"\e[31mnote", r"\x1b[31mnote"),
        (r"no\u2028te", r"no\u2028te"),
        (r"no\uFEFFte", r"no\ufeffte"),
        (r"no\0te", r"no\x00te"),
        ("nöte", "nöte"),
    ],
)
def test_a_key_with_signs_that_a_terminal_would_obey_is_repeated_in_escapes(key: str, written: str) -> None:
    with pytest.raises(StudyError) as raised:
        parse_study("study.yaml", changed(BOX, ("note: An", f'"{key}": An')).encode(), lambda _name: None)
    assert str(raised.value).startswith(f"study.yaml:2: {written}: given the key {written}; wanted one of ")
    assert "\n" not in str(raised.value)


def test_a_good_study_is_told_nothing_of_in_any_dress() -> None:
    for text in (BOX, CUTS):
        for dress in (
            text,
            text.replace("\n", "\r\n"),
            f"\N{ZERO WIDTH NO-BREAK SPACE}{text}",
            f"---\n{text}...\n",
        ):
            assert told(dress.encode()) == ()
        assert told(json.dumps(read_source("a", text.encode()).tree).encode()) == ()
