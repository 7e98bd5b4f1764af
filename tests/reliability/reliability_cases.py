"""Small problems with exact answers, shared by the tests of this folder."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping

import numpy as np

from riskcut.reliability.intervals import proportion
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Normal

STANDARD = Normal(mean=0.0, sd=1.0)


def component(name, respond, *, columns, labels=("margin",), governing=None, group="section"):
    return Component(
        name=name,
        unions=(group, "whole"),
        columns=tuple(columns),
        labels=tuple(labels),
        governing=(True,) * len(labels) if governing is None else tuple(governing),
        respond=respond,
    )


def margins(*functions):
    """Respond with one function of x a limit state."""

    def respond(x, which):
        return Response(margin=np.stack([functions[k](x) for k in which]).T)

    return respond


def beyond(*betas):
    """Respond with beta - z: failure probability Phi(-beta)."""
    return margins(*(lambda x, beta=beta: beta - x[:, 0] for beta in betas))


def single(respond, columns=1, **kwargs):
    return Problem(
        Joint([STANDARD] * columns), (component("one", respond, columns=range(columns), **kwargs),)
    )


def agrees(failures, rows, probability, level=0.9999):
    """Whether the exact probability lies in the Clopper-Pearson interval of the counts."""
    lower, upper = proportion(failures, rows, level)
    return bool(lower <= probability <= upper)


def bits(thing):
    """Everything in a result as nested tuples of bytes, for comparison to the last bit."""
    if dataclasses.is_dataclass(thing):
        return tuple((field.name, bits(getattr(thing, field.name))) for field in dataclasses.fields(thing))
    if isinstance(thing, Mapping):
        return tuple((key, bits(value)) for key, value in thing.items())
    if isinstance(thing, np.ndarray):
        return (thing.shape, str(thing.dtype), thing.tobytes())
    if isinstance(thing, float):
        return thing.hex()
    return thing
