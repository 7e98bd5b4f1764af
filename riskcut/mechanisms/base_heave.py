r"""Base heave: the clay below the formation fails under the weight of the ground beside the cut.

Forms of one event, all in kPa per plan area of the moving ground. They are alternative models: all that
apply are shown, one governs and enters the system. With *H* the depth of the cut, *B* its width, *L* its
length, *T* the undrained soil below formation, and :math:`B_1 = \min(B/\sqrt 2, T)`:

- ``bearing`` (Bjerrum & Eide 1956 with Skempton 1951): the base as an upturned deep footing;
- ``wide_cut`` (Terzaghi 1943): a block of breadth :math:`B_1` that sinks beside the cut, held by the
  bearing capacity at formation level and by the shear on its outer side;
- ``finite_cut`` (Chang 2000): the same with the length of the cut;
- ``embedded_wall`` (Eide, Aas & Josang 1972): bearing below the wall's toe, with adhesion on the wall inside
  (:mod:`riskcut.mechanisms.heave_embedded`);
- ``circle``: a slip circle about the lowest prop, through the wall's toe or deeper
  (:mod:`riskcut.mechanisms.heave_circle`, :mod:`riskcut.mechanisms.heave_turning`);
- ``with_piles``: the bearing form and tension piles across the slip, an upper bound
  (:mod:`riskcut.mechanisms.heave_piles`).

By range of use only ``bearing`` or ``wide_cut`` governs; the others where the study says so.

The load is in total stress. Free water that stands on the ground beside the cut loads it like a
surcharge, and water inside the cut presses on the base and is taken off.

The first three are in :mod:`riskcut.mechanisms.heave_forms`. Side shear counts as a resistance, with
the model factor on it; with the factor at 1 taking it off the load instead would change the factor of
safety and not which rows fail.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from riskcut.ground import reach
from riskcut.mechanisms import heave_embedded, heave_facts, heave_forms, heave_piles, heave_turning, reading
from riskcut.mechanisms.contract import Mechanism, Member, Option, Outcome, Step
from riskcut.mechanisms.heave_common import EVEN, Common, Form, block_steps, common
from riskcut.mechanisms.heave_facts import SHALLOW, SHORTER_SIDE
from riskcut.study.block import Block, Number

NAME: Final = "base_heave"
MEMBERS: Final = ("bearing", "wide_cut", "finite_cut", "embedded_wall", "circle", "with_piles")

BENDING: Final = "the wall's bending, which is not stated (works.wall.bending_resistance)"

OPTIONS: Final = {
    "governing": Option(
        meaning="which form enters the system; by range of use where it is not stated or does not apply at a "
        "stage (H/B of 1 or more at the means: bearing, below: wide_cut)",
        choices=MEMBERS,
    )
}


def members(block: Block) -> tuple[Member, ...]:
    """Return the forms, with the one that governs and the reason where one does not apply.

    Notes
    -----
    Where the form that the study names does not apply at a stage, the one by range of use governs: the event
    never drops out of the system.
    """
    reason = _not_applicable(block)
    reasons = {name: reason or _OWN_REASONS.get(name, _none)(block) for name in MEMBERS}
    stated = reading.word(block, mechanism=NAME, key="governing", options=OPTIONS)
    ratio = float((block.surface - block.formation) / block.width)
    by_range = "bearing" if ratio >= 1.0 else "wide_cut"
    why = f"governs by range of use: H/B {ratio:.2f} is {'1 or more' if ratio >= 1.0 else 'below 1'}"
    governing = by_range
    if stated and reason is None and reasons[stated]:
        why += f" (the study states {stated}, which does not apply here)"
    elif stated:
        governing, why = stated, f"governs because the study states it (H/B {ratio:.2f})"
    found = []
    for name in MEMBERS:
        note = why if name == governing else f"shown beside {governing}, which governs"
        note = "; ".join((note, *_own_notes(block, name)))
        found.append(
            Member(
                name=name,
                governing=name == governing,
                not_applicable=reasons[name],
                note="" if reasons[name] else note,
            )
        )
    return tuple(found)


def evaluate(block: Block, names: Sequence[str]) -> tuple[Outcome, ...]:
    """Return resistance and load of the named forms, kPa, with the numbers on the way.

    Rows in which strata cross, the cut has no depth, or the formation lies in drained soil have a NaN
    resistance: the form says nothing of them, and they are never counted as safe.

    Raises
    ------
    ValueError
        If a name is not one of the forms, or that form needs what the block lacks.
    """
    for name in names:
        if name not in MEMBERS:
            raise ValueError(f"{NAME} has no member {name!r}")
    shared = common(block)
    return tuple(_outcome(block, shared, name) for name in names)


def _outcome(block: Block, shared: Common, member: str) -> Outcome:
    """Return one form of the event with its impossible rows marked."""
    theta = reading.model_factor(block, mechanism=NAME, member=member)
    form = _FORMS[member](block, shared, theta=theta)
    resistance = reading.without(form.resistance, shared.impossible)
    steps = (
        *form.steps,
        Step(symbol="theta", meaning=heave_facts.THETA, unit="1", value=theta),
        Step(symbol="R", meaning="resistance", unit="kPa", value=resistance),
    )
    outside = {SHORTER_SIDE: np.greater(block.width, block.length), **form.outside}
    return Outcome(resistance=resistance, action=form.action, outside=outside, steps=steps)


def _bearing(block: Block, shared: Common, *, theta: Number) -> Form:
    factor = heave_forms.bearing_factor(depth=shared.depth, width=block.width, length=block.length)
    resistance = heave_forms.bearing_resistance(
        strength_below=shared.strength, factor_nc=factor, model_factor=theta
    )
    step = Step(symbol="N_c", meaning="bearing capacity factor", unit="1", value=factor)
    return Form(resistance, shared.action, {EVEN: shared.uneven}, (*block_steps(block, shared), step))


def _wide_cut(block: Block, shared: Common, *, theta: Number) -> Form:
    resistance = heave_forms.wide_cut_resistance(
        strength_below=shared.strength, side_shear=shared.side, breadth=shared.breadth, model_factor=theta
    )
    outside = {SHALLOW: np.greater_equal(shared.depth, block.width), EVEN: shared.uneven}
    return Form(resistance, shared.action, outside, (*block_steps(block, shared), _side_step(shared)))


def _finite_cut(block: Block, shared: Common, *, theta: Number) -> Form:
    resistance = heave_forms.finite_cut_resistance(
        strength_below=shared.strength,
        side_shear=shared.side,
        breadth=shared.breadth,
        length=block.length,
        model_factor=theta,
    )
    across = Step(symbol="B''", meaning="sqrt 2 B_1", unit="m", value=np.sqrt(2.0) * shared.breadth)
    steps = (*block_steps(block, shared), _side_step(shared), across)
    return Form(resistance, shared.action, {EVEN: shared.uneven}, steps)


def _with_piles(block: Block, shared: Common, *, theta: Number) -> Form:
    clay = reading.model_factor(block, mechanism=NAME, member="bearing")
    return heave_piles.form(block, shared, clay=clay, friction=theta)


def _side_step(shared: Common) -> Step:
    return Step(symbol="su_u H", meaning="shear on the side of the block", unit="kN/m", value=shared.side)


_FORMS: Final = {
    "bearing": _bearing,
    "wide_cut": _wide_cut,
    "finite_cut": _finite_cut,
    "embedded_wall": heave_embedded.form,
    "circle": heave_turning.form,
    "with_piles": _with_piles,
}

_OWN_REASONS: Final = {
    "embedded_wall": heave_embedded.not_applicable,
    "circle": heave_turning.not_applicable,
    "with_piles": heave_piles.not_applicable,
}


def _none(_: Block) -> str | None:
    return None


def _own_notes(block: Block, member: str) -> tuple[str, ...]:
    """Return what a reader should know of a form in this block."""
    unstated = block.wall is None or block.wall.bending_resistance is None
    notes = {
        "with_piles": ("upper bound: superposition of clay and piles",),
        "embedded_wall": (f"adhesion not capped by {BENDING}",) if unstated else (),
        "circle": (
            "shear above the lowest prop and a recalled bias of the model are left out, both on the safe side",
            *((f"nothing counted for {BENDING}",) if unstated else ()),
        ),
    }
    return notes.get(member, ())


def _not_applicable(block: Block) -> str | None:
    """Return why undrained base heave is no question in this block, None where it is one."""
    if not block.dug:
        return "nothing has been dug yet"
    if block.slab is not None:
        return (
            "the base slab closes the excavation: clay can no longer rise into an open cut, and what presses "
            "on the slab from below is a question of uplift"
        )
    level = float(block.formation)
    if float(reach.undrained_depth(block.strata, level=level)) > 0.0:
        return None
    drained = [s.name for s in block.strata if not s.undrained and float(s.top) >= level]
    return f"the formation lies in or on {drained[-1]}, which is read drained: clay cannot heave there"


MECHANISM: Final = Mechanism(
    name=NAME,
    title="Base heave",
    sentence="The clay below the formation fails under the weight of the ground beside the cut, and the base "
    "rises.",
    unit="kPa",
    formula=heave_facts.FORMULA,
    symbols=heave_facts.SYMBOLS,
    range_of_use=heave_facts.RANGE_OF_USE,
    sources=heave_facts.SOURCES,
    not_covered=heave_facts.NOT_COVERED,
    factors=heave_facts.FACTORS,
    members=members,
    evaluate=evaluate,
    unaffected_by=frozenset({"sumps", "rain", "aquifer", "water_under_slab"}),
    options=OPTIONS,
    monotone=heave_facts.MONOTONE,
)
