r"""Pumps and wells of which some stand still: discrete states of a stage, each a scenario with its probability.

Machines fail one by one and are repaired, or all at once (power, header main, control). A stage's state is the worst
that it sees: *k* of *n* out at some time, or all at once. A capacity is never multiplied by an availability.

With *q* the share of the time that one machine stands still, :math:`q = \lambda\tau/(1 + \lambda\tau)`, the frequency
of *k* or more of *n* independent ones being out is that of the *k*-th to fail while *k - 1* are out,

.. math:: \nu_k = \binom{n}{k-1} q^{k-1} (1 - q)^{n-k+1} \; (n - k + 1)\, \lambda

(steady state of independent machines that alternate between work and repair; Billinton & Allan, Reliability Evaluation
of Engineering Systems, recalled). With :math:`\pi_k` the chance that so many are out when the stage begins, that of its
ever seeing them out is

.. math:: P_k = 1 - (1 - \pi_k) \, e^{-\nu_k t/(1 - \pi_k)}, \qquad
          \pi_k = \sum_{j \ge k} \binom{n}{j} q^j (1 - q)^{n-j}

(reasoned: from among the states with fewer out, k are reached at the rate :math:`\nu_k/(1 - \pi_k)`; exact for k = 1,
and otherwise above the exact chain of states, by a tenth or so). Of the common failure :math:`P = 1 -
e^{-\lambda_c t}`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from riskcut.study.errors import Path
from riskcut.study.schema import ReliefWells, Stage, Study, Sumps
from riskcut.study.shape import Unknown
from riskcut.study.spelling import Said

WELLS: Path = ("water", "relief_wells")
SUMPS: Path = ("water", "sumps")


@dataclass(frozen=True, slots=True)
class Standstill:
    """A state of the wells, or of the pumps, that a stage may see."""

    name: str
    probability: float
    out: int
    """Machines that stand still."""
    at_once: bool = False
    """Whether they failed together, so that an answer in time may save what is lost slowly."""


def frequency(*, installed: int, out: int, rate: float, repair: float) -> float:
    """Return how often *out* or more of the installed machines come to stand still together, per year.

    Parameters
    ----------
    installed, out : int
        *n* and *k*, 1 or more.
    rate : float
        Of failure of one machine that works, per year.
    repair : float
        Mean time until it works again, years.
    """
    q = rate * repair / (1.0 + rate * repair)
    others = math.comb(installed, out - 1) * q ** (out - 1) * (1.0 - q) ** (installed - out + 1)
    return others * (installed - out + 1) * rate


def well_states(wells: ReliefWells, lasts: float) -> list[Standstill]:
    """Return the states of relief wells in which less than the planned drawdown is kept.

    Parameters
    ----------
    wells
        As stated; up to ``installed - needed`` out, they keep the drawdown.
    lasts
        Length of the stage, years.

    Returns
    -------
    list of Standstill
        One too many out; more than that, taken as all (on the safe side); all at once. Those that cannot be are left
        out.
    """
    states = []
    if wells.failure_rate is not None and wells.repair is not None:
        first, n = wells.installed - wells.needed + 1, wells.installed
        chances = _at_least(n, wells.failure_rate, wells.repair, lasts)
        states.append(Standstill(_out(first, n, "wells"), chances[first - 1] - chances[first], first))
        if first < n:
            states.append(Standstill("more wells out", chances[first], n))
    if wells.common_failure_rate is not None:
        chance = -math.expm1(-wells.common_failure_rate * lasts)
        states.append(Standstill("all wells out at once", chance, wells.installed, at_once=True))
    return [state for state in states if state.probability > 0.0]


def pump_states(sumps: Sumps, lasts: float) -> list[Standstill]:
    """Return the states of the sumps' pumps in which any stands still: one out, two out, ..., all out.

    Parameters
    ----------
    sumps
        As stated.
    lasts
        Length of the stage, years.
    """
    n = sumps.pumps
    at_least = [0.0] * (n + 1)
    if sumps.failure_rate is not None and sumps.repair is not None:
        at_least = _at_least(n, sumps.failure_rate, sumps.repair, lasts)
    if sumps.common_failure_rate is not None:
        none = math.exp(-sumps.common_failure_rate * lasts)
        at_least = [1.0 - (1.0 - chance) * none for chance in at_least[:n]] + [0.0]
    return [
        Standstill(_out(out, n, "pumps"), at_least[out - 1] - at_least[out], out)
        for out in range(1, n + 1)
        if at_least[out - 1] > at_least[out]
    ]


def _at_least(installed: int, rate: float, repair: float, lasts: float) -> list[float]:
    """Return the chances that 1, 2, ..., n machines are out together at some time of a stage, and 0 for more.

    A state passes through those before it: where machines stand still so much that its own frequency is the higher, the
    ones before it are taken as likely as it is.
    """
    chances = [0.0]
    for out in range(installed, 0, -1):
        began = _out_already(installed=installed, out=out, rate=rate, repair=repair)
        entered = frequency(installed=installed, out=out, rate=rate, repair=repair) / (1.0 - began)
        own = began - (1.0 - began) * math.expm1(-entered * lasts)
        chances.insert(0, max(own, chances[0]))
    return chances


def _out_already(*, installed: int, out: int, rate: float, repair: float) -> float:
    """Return the share of the time in which *out* or more of the machines stand still."""
    q = rate * repair / (1.0 + rate * repair)
    return math.fsum(
        math.comb(installed, j) * q**j * (1.0 - q) ** (installed - j) for j in range(out, installed + 1)
    )


def _out(out: int, installed: int, what: str) -> str:
    return f"all {what} out" if out == installed else f"{out} of {installed} {what} out"


def states_of_stages(study: Study) -> dict[str, tuple[list[Standstill], list[Standstill]]]:
    """Return the states of the wells and of the pumps that each stage may see.

    Wells work where a drawdown is in force; pumps from the first dig on, in temporary stages.
    """
    wells, sumps = study.water.relief_wells, study.water.sumps
    states: dict[str, tuple[list[Standstill], list[Standstill]]] = {}
    drawdown, dug = 0.0, False
    for name, stage in study.stages.items():
        drawdown = drawdown if stage.water.drawdown is None else stage.water.drawdown.value
        dug = dug or stage.dig_to is not None
        of_wells = of_pumps = list[Standstill]()
        if wells is not None and stage.lasts is not None and drawdown != 0.0:
            of_wells = well_states(wells, stage.lasts)
        if sumps is not None and stage.lasts is not None and dug and stage.phase == "temporary":
            of_pumps = pump_states(sumps, stage.lasts)
        states[name] = of_wells, of_pumps
    return states


def share_lost(wells: ReliefWells, state: Standstill) -> float:
    """Return the share of the drawdown that a state loses: equal wells, whose drawdowns add up."""
    return 1.0 - min((wells.installed - state.out) / wells.needed, 1.0)


def check_standby(study: Study, unknown: Unknown) -> Iterator[Said]:
    """Yield what is at fault in the wells and pumps of a section."""
    wells, sumps = study.water.relief_wells, study.water.sumps
    if wells is not None and WELLS not in unknown:
        yield from _rates(WELLS, wells, unknown)
        yield from _wells(wells, unknown)
        pumped = [name for name, stage in study.stages.items() if _pumped(stage)]
        known = not any(unknown.touches(("stages", name)) for name in study.stages)
        if study.water.aquifer is None and not unknown.touches(("water", "aquifer")):
            yield WELLS, "relief wells without an aquifer", "aquifer under water, whose head they lower"
        elif not pumped and known and ("stages",) not in unknown:
            yield WELLS, "relief wells, and no stage with a drawdown", "water: {drawdown: ...} in a stage"
    if sumps is not None and SUMPS not in unknown:
        yield from _rates(SUMPS, sumps, unknown)
    for path, machines in ((WELLS, wells), (SUMPS, sumps)):
        if machines is None or path in unknown or not _may_fail(machines):
            continue
        without = [
            name
            for name, stage in study.stages.items()
            if stage.lasts is None and not unknown.touches(("stages", name, "lasts"))
        ]
        if without and ("stages",) not in unknown:
            given = f"rates of failure, for stages that do not say how long they last ({', '.join(without)})"
            yield path, given, "lasts: a duration, such as 2 months, in each of them"


def _may_fail(machines: ReliefWells | Sumps) -> bool:
    return machines.failure_rate is not None or machines.common_failure_rate is not None


def _pumped(stage: Stage) -> bool:
    return stage.water.drawdown is not None and stage.water.drawdown.value != 0.0


def _rates(path: Path, machines: ReliefWells | Sumps, unknown: Unknown) -> Iterator[Said]:
    keys = ("failure_rate", "repair", "common_failure_rate")
    if any(unknown.touches((*path, key)) for key in keys):
        return
    if machines.failure_rate is not None and machines.repair is None:
        yield path, "failure_rate without repair", "repair: until one works again, such as 3 days"
    elif machines.repair is not None and machines.failure_rate is None:
        yield (*path, "repair"), "repair without failure_rate", "failure_rate, such as 0.2 per year"


def _wells(wells: ReliefWells, unknown: Unknown) -> Iterator[Said]:
    keys = ("failure_rate", "common_failure_rate")
    if not _may_fail(wells) and not any(unknown.touches((*WELLS, key)) for key in keys):
        yield WELLS, "neither failure_rate nor common_failure_rate", "one of the two, or both"
    if wells.needed > wells.installed and (*WELLS, "installed") not in unknown:
        given = f"{wells.needed}, more than the {wells.installed} installed"
        yield (*WELLS, "needed"), given, "at most as many as are installed"
    times = ("response_time", "recovery_time")
    if any(unknown.touches((*WELLS, key)) for key in (*times, "common_failure_rate")):
        return
    there = [key for key in times if getattr(wells, key) is not None]
    if len(there) == 1:
        missing = times[1 - times.index(there[0])]
        given = f"{there[0]} without {missing}"
        yield (*WELLS, there[0]), given, "both (one is held against the other) or neither"
    elif there and wells.common_failure_rate is None:
        given = "response_time without common_failure_rate"
        yield (*WELLS, there[0]), given, "common_failure_rate: how often all wells are lost at once"
