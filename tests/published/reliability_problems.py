"""Published reliability problems: what fails, what varies, and the verified probability that it does.

The formulas are those of the repository of reliability problems (RPRepo, Rozsás & Slobbe 2019) as the
open-source package otbenchmark 0.2.1 transcribes them, and of Waarts (2000); written afresh here. References,
notes and probabilities are in cases/reliability_problems.toml.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import reduce
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from riskcut.reliability.problem import Component, Problem, Response
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Exponential, Lognormal, Marginal, Normal, Uniform

Floats = NDArray[np.float64]
Margin = Callable[[Floats], Floats]
"""From the variables, one a row (d, n), to the margin (n,)."""

STANDARD = Normal(mean=0.0, sd=1.0)
ROOT_2, ROOT_3 = math.sqrt(2.0), math.sqrt(3.0)


@dataclass(frozen=True)
class Published:
    """A problem, its verified failure probability and where it comes from."""

    id: str
    source: str
    note: str
    probability: float
    marginals: tuple[Marginal, ...]
    """Of independent variables."""
    parts: tuple[Margin, ...]
    """In series: it fails where any of them is negative."""

    @property
    def dimension(self) -> int:
        """Number of variables."""
        return len(self.marginals)

    @property
    def problem(self) -> Problem:
        """One limit state, as published: the least of the parts."""
        return self._problem(("margin",), (lambda x: reduce(np.minimum, [part(x) for part in self.parts]),))

    @property
    def in_parts(self) -> Problem:
        """One limit state a part, as someone who knows them would state it; the union is the same."""
        return self._problem(tuple(f"part {k + 1}" for k in range(len(self.parts))), self.parts)

    def _problem(self, labels: tuple[str, ...], margins: Sequence[Margin]) -> Problem:
        def respond(x: Floats, which: Sequence[int]) -> Response:
            return Response(margin=np.stack([margins[k](x.T) for k in which]).T)

        one = Component(
            name="published",
            unions=("whole",),
            columns=tuple(range(self.dimension)),
            labels=labels,
            governing=(True,) * len(labels),
            respond=respond,
        )
        return Problem(Joint(self.marginals), (one,))


def collapse(x: Floats) -> Floats:
    """RP8: five plastic moments (two of them twice) against two loads."""
    return x[0] + 2.0 * x[1] + 2.0 * x[2] + x[3] - 5.0 * x[4] - 5.0 * x[5]


def cylinder(x: Floats) -> Floats:
    """RP38."""
    a, b, c, d, e, f, g = x
    above = d**2 - 4.0 * e * f * g**2 + d * (f + 4.0 * e + 2.0 * f * g)
    return 15.59e4 - a * b**3 / (2.0 * c**3) * above / (d * e * (d + f + 2.0 * f * g))


def apart(x: Floats) -> Floats:
    """What RP55 is a function of."""
    return np.asarray(x[0] - x[1])


def lens(x: Floats) -> Floats:
    """The first part of RP57: it fails where both surfaces do."""
    return np.maximum(-(x[0] ** 2) + x[1] ** 3 + 3.0, 2.0 - x[0] - 8.0 * x[1])


def branch(x: Floats, sign: float) -> Floats:
    """The curved parts of the four-branch problem."""
    return 3.0 + 0.1 * (x[0] - x[1]) ** 2 + sign * (x[0] + x[1]) / ROOT_2


_NORMAL = (STANDARD, STANDARD)

_DEFINITIONS: dict[str, tuple[tuple[Marginal, ...], tuple[Margin, ...]]] = {
    "RP8": (
        (
            *(Lognormal(mean=120.0, sd=12.0),) * 4,
            Lognormal(mean=50.0, sd=10.0),
            Lognormal(mean=40.0, sd=8.0),
        ),
        (collapse,),
    ),
    "RP22": (_NORMAL, (lambda x: 2.5 - (x[0] + x[1]) / ROOT_2 + 0.1 * (x[0] - x[1]) ** 2,)),
    "RP24": (
        (Normal(mean=10.0, sd=3.0),) * 2,
        (lambda x: 2.5 - 0.2357 * (x[0] - x[1]) + 0.00463 * (x[0] + x[1] - 20.0) ** 4,),
    ),
    "RP25": (
        _NORMAL,
        (lambda x: np.maximum(x[0] ** 2 - 8.0 * x[1] + 16.0, -16.0 * x[0] + x[1] + 32.0),),
    ),
    "RP28": (
        (Normal(mean=78064.0, sd=11710.0), Normal(mean=0.0104, sd=0.00156)),
        (lambda x: x[0] * x[1] - 146.14,),
    ),
    "RP31": (_NORMAL, (lambda x: 2.0 - x[1] + 256.0 * x[0] ** 4,)),
    "RP33": ((STANDARD,) * 3, (lambda x: 3.0 * ROOT_3 - x[0] - x[1] - x[2], lambda x: 3.0 - x[2])),
    "RP35": (
        _NORMAL,
        (
            lambda x: 2.0 - x[1] + np.exp(-0.1 * x[0] ** 2) + (0.2 * x[0]) ** 4,
            lambda x: 4.5 - x[0] * x[1],
        ),
    ),
    "RP38": (
        tuple(Normal(mean=m, sd=0.1 * m) for m in (350.0, 50.8, 3.81, 173.0, 9.38, 33.1, 0.036)),
        (cylinder,),
    ),
    "RP54": ((Exponential(mean=1.0),) * 20, (lambda x: x.sum(axis=0) - 8.951,)),
    "RP55": (
        (Uniform(low=-1.0, high=1.0),) * 2,
        (
            lambda x: 0.2 + 0.6 * apart(x) ** 4 - apart(x) / ROOT_2,
            lambda x: 0.2 + 0.6 * apart(x) ** 4 + apart(x) / ROOT_2,
            lambda x: apart(x) + 5.0 / ROOT_2 - 2.2,
            lambda x: -apart(x) + 5.0 / ROOT_2 - 2.2,
        ),
    ),
    "RP57": (_NORMAL, (lens, lambda x: (x[0] + 3.0) ** 2 + (x[1] + 3.0) ** 2 - 4.0)),
    "RP63": ((STANDARD,) * 100, (lambda x: 0.1 * np.square(x[1:]).sum(axis=0) - x[0] - 4.5,)),
    "RP75": (_NORMAL, (lambda x: 3.0 - x[0] * x[1],)),
    "RP89": (_NORMAL, (lambda x: 8.0 - x[0] ** 2 - x[1], lambda x: 6.0 - x[0] / 5.0 - x[1])),
    "RP107": ((STANDARD,) * 10, (lambda x: 5.0 * math.sqrt(10.0) - x.sum(axis=0),)),
    "RP110": (
        _NORMAL,
        (
            lambda x: np.where(x[0] <= 3.5, 0.85 - 0.1 * x[0], 4.0 - x[0]),
            lambda x: np.where(x[1] <= 2.0, 2.3 - x[1], 0.5 - 0.1 * x[1]),
        ),
    ),
    "RP111": (_NORMAL, (lambda x: 12.5 - np.abs(x[0] * x[1]),)),
    "four-branch": (
        _NORMAL,
        (
            lambda x: branch(x, -1.0),
            lambda x: branch(x, 1.0),
            lambda x: x[0] - x[1] + 7.0 / ROOT_2,
            lambda x: x[1] - x[0] + 7.0 / ROOT_2,
        ),
    ),
}


def _read() -> dict[str, Published]:
    path = Path(__file__).parent / "cases" / "reliability_problems.toml"
    cases = {case["id"]: case for case in tomllib.loads(path.read_text(encoding="utf-8"))["case"]}
    if cases.keys() != _DEFINITIONS.keys():
        raise ValueError("every case wants a definition, and every definition a case")
    return {
        name: Published(
            id=name,
            source=cases[name]["reference"],
            note=cases[name]["note"],
            probability=float(cases[name]["expected"]["failure_probability"]),
            marginals=marginals,
            parts=parts,
        )
        for name, (marginals, parts) in _DEFINITIONS.items()
    }


PROBLEMS: dict[str, Published] = _read()
"""By id."""
