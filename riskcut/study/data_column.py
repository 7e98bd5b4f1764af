"""A column of numbers out of a data file: text with a header line, its cells parted by commas.

Semicolons or tabs will do as well; empty lines and lines that begin with ``#`` are passed over. A file of one
column needs no header.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass

from riskcut.study.errors import near_matches, one_of, shown

ReadCell = Callable[[str], float | None]
"""Returns the number in a cell, None where there is none."""

COMMENT = "#"


class DataFault(ValueError):  # noqa: N818 - a fault of the data, told as one of the study
    """A data file, or a column of it, that cannot be used."""

    def __init__(self, key: str, given: str, wanted: str) -> None:
        super().__init__(f"given {given}; wanted {wanted}")
        self.key, self.given, self.wanted = key, given, wanted


@dataclass(frozen=True)
class Row:
    """One line of cells."""

    line: int
    cells: tuple[str, ...]


def read_column(content: bytes, name: str | None, read: ReadCell) -> tuple[str, list[tuple[int, float]]]:
    """Return a column's name and its numbers, each with its line.

    Parameters
    ----------
    content
        The bytes of the file.
    name
        The column's header; None where it is the only one of numbers.
    read
        Returns the number in a cell.

    Raises
    ------
    DataFault
        Where there is no such column, or a cell of it that holds no number.
    """
    rows = _rows(content)
    header = rows[0].cells if all(read(cell) is None for cell in rows[0].cells) else ()
    body = rows[1:] if header else rows
    width = len(rows[0].cells)
    for row in body:
        if len(row.cells) != width:
            given = f"{len(row.cells)} cells in line {row.line} of the file"
            raise DataFault("data", given, f"as many as in its first line, {width}")
    place = _place(name, header, body, width, read)
    numbers = []
    for row in body:
        value = read(row.cells[place])
        if value is None:
            where = f"{shown(row.cells[place])} in line {row.line} of the file"
            raise DataFault("data", where, "a number in each line of the column")
        numbers.append((row.line, value))
    return header[place] if header else "", numbers


def _rows(content: bytes) -> list[Row]:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        given = f"bytes that are not UTF-8 in line {line} of the file"
        raise DataFault("data", given, "a text file in UTF-8") from None
    lines = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith(COMMENT)
    ]
    if not lines:
        raise DataFault("data", "a file without a line", "a header line, and numbers below it")
    sign = next((sign for sign in ";\t" if sign in lines[0][1]), ",")
    try:
        return [
            Row(number, tuple(cell.strip() for cell in next(csv.reader([line], delimiter=sign))))
            for number, line in lines
        ]
    except csv.Error as error:
        raise DataFault(
            "data", f"a file that cannot be read ({error})", "a file of comma-separated cells"
        ) from None


def _place(name: str | None, header: tuple[str, ...], body: list[Row], width: int, read: ReadCell) -> int:
    """Return which column is meant."""
    if name is not None:
        if header.count(name) == 1:
            return header.index(name)
        if not header:
            raise DataFault("column", shown(name), "no column: the file has no header line that names one")
        twice = name in header
        given = f"{shown(name)}, which the header has twice" if twice else shown(name)
        wanted = "another name for one of them" if twice else f"{one_of(header)}{near_matches(name, header)}"
        raise DataFault("column", given, wanted)
    if width == 1:
        return 0
    if not header:
        raise DataFault(
            "data", f"a file of {width} columns without a header line", "a header line that names them"
        )
    of_numbers = [i for i in range(width) if all(read(row.cells[i]) is not None for row in body)]
    if len(of_numbers) == 1:
        return of_numbers[0]
    several = [header[i] for i in of_numbers]
    given = (
        f"a file with several columns of numbers ({', '.join(several)})"
        if several
        else "no column of numbers"
    )
    raise DataFault("", given, f"column: {one_of(several or header)}")
