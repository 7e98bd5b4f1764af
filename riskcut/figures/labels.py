"""Words and numbers as they stand on a figure."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Sequence
from decimal import Decimal

PURE_NUMBER = "\N{EN DASH}"
"""Stands for the unit of what has none."""


def wrapped(name: str, width: int) -> str:
    """Break a name over lines with nothing left out.

    After a point, a stroke or a blank; a part that does not fit on a line of its own is broken after an
    underscore, and where it has none, anywhere.

    Parameters
    ----------
    name
        For example ``ground.strata.soft_clay.su.per_metre``.
    width
        Most characters on a line.
    """
    lines = [""]
    for part in _parts(name, width):
        if lines[-1] and len(lines[-1]) + len(part.rstrip()) > width:
            lines.append("")
        lines[-1] += part
    return "\n".join(line.rstrip() for line in lines)


def _parts(name: str, width: int) -> list[str]:
    """Cut a name into what stays together, of at most ``width`` characters each."""
    parts: list[str] = []
    for whole in re.findall(r"[^./\s]*[./\s]|[^./\s]+", name):
        if len(whole) <= width:
            parts.append(whole)
            continue
        for piece in re.findall(r"[^_]*_|[^_]+", whole):
            parts += [piece[i : i + width] for i in range(0, len(piece), width)]
    return parts


def filled(sentence: str, width: int) -> list[str]:
    """Break a sentence over lines of at most ``width`` characters, at its spaces.

    A sign stays with its number, and a number with its per cent.
    """
    joined = re.sub(r"(?<=[<>]) (?=[\d.-])|(?<=\d) (?=%)", "\N{NO-BREAK SPACE}", sentence)
    return textwrap.wrap(joined, width, break_long_words=True, break_on_hyphens=False)


def level(value: float) -> str:
    """Return a level in metres with its sign, for example +3.20; a true minus sign."""
    return f"{value:+.2f}".replace("-", "\N{MINUS SIGN}")


def decade(value: float, _position: int | None = None) -> str:
    """Return the tick label of a power of ten, for example 1e-3; 1 and 0.1 as they are."""
    exponent = round(math.log10(value))
    return f"{value:g}" if -2 < exponent < 1 else f"1e{exponent}"


def thousands(value: float, _position: int | None = None) -> str:
    """Return the tick label of a number of rows in thousands: 262, 8.2, 1,049."""
    return f"{value / 1e3:.1f}" if value < 1e4 else f"{value / 1e3:,.0f}"


def counted(number: int, one: str, many: str | None = None) -> str:
    """Return a count with its noun: 1 stage, 12 stages."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def short_probability(value: float) -> str:
    """Return a stated probability (a target, which has no error) to two figures: 4.8e-4."""
    return f"{Decimal(value):.1e}"


def listed(words: Sequence[str]) -> str:
    """Join words as a sentence does: a, b and c."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def with_unit(name: str, unit: str) -> str:
    """Return an axis label; a pure number is marked by a dash."""
    return f"{name} ({PURE_NUMBER if unit in ('', '1') else unit})"
