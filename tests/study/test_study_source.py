"""The YAML door: plain values, and the line of every entry."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from riskcut.study.errors import StudyError
from riskcut.study.source import read_source

BLOCK = """\
title: A
ground:
  strata:
    clay:
      top: 3
      su: {at_top: 20,
        per_metre: 2}
stages:
  - a
  - b: 1
"""
LINES = {
    ("title",): 1,
    ("ground",): 2,
    ("ground", "strata"): 3,
    ("ground", "strata", "clay"): 4,
    ("ground", "strata", "clay", "top"): 5,
    ("ground", "strata", "clay", "su"): 6,
    ("ground", "strata", "clay", "su", "at_top"): 6,
    ("ground", "strata", "clay", "su", "per_metre"): 7,
    ("stages",): 8,
    ("stages", 0): 9,
    ("stages", 1): 10,
    ("stages", 1, "b"): 10,
}


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", ["", "\N{ZERO WIDTH NO-BREAK SPACE}"])
def test_lines_of_block_and_flow_style(newline: str, mark: str) -> None:
    source = read_source("a.yaml", (mark + BLOCK.replace("\n", newline)).encode())
    assert source.lines == LINES
    assert source.tree["ground"]["strata"]["clay"] == {"top": 3, "su": {"at_top": 20, "per_metre": 2}}
    assert source.tree["stages"] == ["a", {"b": 1}]


def test_comments_and_empty_lines_count() -> None:
    source = read_source("a.yaml", b"# one\n\na: 1 # two\n\n# three\nb:\n\n  c: 2\n")
    assert source.lines == {("a",): 3, ("b",): 6, ("b", "c"): 8}


def test_an_address_that_is_not_there_has_the_line_of_what_would_hold_it() -> None:
    source = read_source("a.yaml", BLOCK.encode())
    assert source.line(("ground", "strata", "clay", "su", "cov")) == 6
    assert source.line(("ground", "strata", "sand", "top")) == 3
    assert source.line(("water", "table")) == 1
    assert source.line(()) == 1


def test_what_an_alias_or_a_merge_brings_in_has_the_line_where_it_stands() -> None:
    text = (
        "shared: &s\n  spacing: 5\n  made: steel\n"
        "props:\n  upper:\n    <<: *s\n    level: 2\n  lower:\n    <<: *s\n    spacing: 4\n"
        "same: *s\n"
    )
    source = read_source("a.yaml", text.encode())
    assert source.tree["props"]["upper"] == {"spacing": 5, "made": "steel", "level": 2}
    assert source.tree["props"]["lower"] == {"spacing": 4, "made": "steel"}
    assert source.line(("props", "upper", "spacing")) == 2
    assert source.line(("props", "upper", "level")) == 7
    assert source.line(("props", "lower", "spacing")) == 10
    assert source.line(("props", "lower", "made")) == 3
    assert source.line(("same",)) == 11
    assert source.line(("same", "made")) == 3


def test_a_changed_copy_of_an_alias_leaves_the_original() -> None:
    tree = read_source("a.yaml", b"a: &x {b: 1}\nc: *x\n").tree
    tree["c"]["b"] = 2
    assert tree["a"] == {"b": 1}


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1e6", 1e6),
        ("no", "no"),
        ("true", True),
        ("~", None),
        ("1_000", 1000),
        ("2 m", "2 m"),
        ("'3'", "3"),
        ("2025-01-31", "2025-01-31"),
        ("!note 3", "3"),
        ("!!set {a, b}", ["a", "b"]),
        ("!!python/object:os.system ls", "ls"),
    ],
)
def test_values_are_plain(text: str, value: object) -> None:
    got = read_source("a.yaml", f"a: {text}\n".encode()).tree["a"]
    assert got == value
    assert type(got) is type(value)


def test_keys_are_words() -> None:
    assert list(read_source("a.yaml", b"1: a\n2.5: b\n~: c\n").tree) == ["1", "2.5", "nothing"]


@pytest.mark.parametrize(
    ("content", "line", "path", "given"),
    [
        (b"", 1, "", "an empty file"),
        (b"# nothing\n", 1, "", "an empty file"),
        (b"just words\n", 1, "", "'just words'"),
        (b"3\n", 1, "", "3"),
        (b"- a\n", 1, "", "a list ['a']"),
        (b"a: 1\nb:\n  c: 1\n  d: 2\n  c: 3\n", 5, "b.c", "the key c twice"),
        (b"a: {c: 1}\nb: {d: 1, c: 1, c: 2}\n", 2, "b.c", "the key c twice"),
        (b"c: 0\na: 1\nc: 2\n", 3, "c", "the key c twice"),
        (b"a: 1\n\tb: 2\n", 2, "", "a tab"),
        (b"a: 1\nb: 'c\nd: 2\n", 2, "", "unexpected end of stream"),
        (b"a: 1\nb: c: d\n", 2, "", "a second colon in one entry"),
        (b"a: 1\n---\nb: 1\n", 2, "", "a second document"),
        (b"a: 1\nb: \x01\n", 2, "", "the control character 0x01"),
        (b"a: 1\nb: \xe9\n", 2, "", "bytes that are not UTF-8"),
        (b"a: !!float soft\n", 1, "", "a value that YAML cannot read"),
        (b"a: 2025-13-45\n", 1, "", "month must be in 1..12"),
        (b"a: " + b"[" * 1000, 1, "", "nested too deep"),
        (b"a: 1\nb: *c\n", 2, "", "undefined alias"),
        (
            b"a: &a [x,x,x,x,x,x,x,x,x,x]\n"
            + b"".join(
                b"%c: &%c [%s]\n" % (n, n, b",".join([b"*%c" % (n - 1)] * 10)) for n in range(98, 105)
            ),
            4,
            "",
            "aliases upon aliases",
        ),
    ],
)
def test_what_cannot_be_read(content: bytes, line: int, path: str, given: str) -> None:
    with pytest.raises(StudyError) as raised:
        read_source("a.yaml", content)
    (fault,) = raised.value.faults
    assert (fault.path, given in fault.given) == (path, True), fault.text("a.yaml")
    assert fault.line >= 1
    assert fault.wanted
    if "aliases" not in given:
        assert fault.line == line


def test_an_anchor_used_again_is_no_warning() -> None:
    assert read_source("a.yaml", b"a: &x 1\nb: &x 2\nc: *x\n").tree == {"a": 1, "b": 2, "c": 2}


@settings(deadline=None, max_examples=150)
@given(
    content=st.one_of(
        st.binary(max_size=40),
        st.text(alphabet="ab:-[]{}&*!|>'\"#%@, \n\t1.?~<", max_size=30).map(str.encode),
    )
)
def test_no_bytes_do_more_than_be_refused(content: bytes) -> None:
    faults, message = (), ""
    try:
        source = read_source("a.yaml", content)
        assert isinstance(source.tree, dict)
        assert all(line >= 1 for line in source.lines.values())
    except StudyError as error:
        faults, message = error.faults, str(error)
    assert all(fault.line >= 1 and fault.given and fault.wanted for fault in faults)
    assert len(message.splitlines()) == len(faults)
