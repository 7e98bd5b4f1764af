"""Which limit states a block has, and the study's own words on mechanisms checked against the catalogue."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from riskcut.mechanisms import catalogue
from riskcut.mechanisms.contract import Mechanism, Member, ModelFactor
from riskcut.study.block import Block
from riskcut.study.errors import Fault, near_matches
from riskcut.study.quantity import Quantity
from riskcut.study.reading import StudyFile


@dataclass(frozen=True, slots=True)
class LimitState:
    """One member of one mechanism in one block."""

    mechanism: Mechanism
    member: Member

    @property
    def label(self) -> str:
        """Return its name, ``mechanism/member``."""
        return f"{self.mechanism.name}/{self.member.name}"

    @property
    def applies(self) -> bool:
        """Whether there is anything to evaluate."""
        return self.member.not_applicable is None


def limit_states(block: Block) -> tuple[LimitState, ...]:
    """Return the limit states of a block at the means, those that do not apply included."""
    return tuple(
        LimitState(mechanism, member)
        for mechanism in catalogue().values()
        for member in mechanism.members(block)
    )


def factors_of(block: Block) -> Mapping[str, tuple[str, Quantity]]:
    """Return the mechanism's own model factor of each limit state that applies and has one, by its name."""
    factors = {}
    for state in limit_states(block):
        factor = state.mechanism.factor(state.member.name)
        if state.applies and factor is not None:
            factors[state.label] = factor.shared or state.label, _quantity(factor)
    return factors


def shared_factors() -> dict[str, set[str]]:
    """Return the quantities whose model factor several mechanisms share, with their members."""
    shared: dict[str, set[str]] = {}
    for mechanism in catalogue().values():
        for factor in mechanism.factors.values():
            if factor.shared:
                quantity, member = factor.shared.split("/")
                shared.setdefault(quantity, set()).add(member)
    return shared


def _quantity(factor: ModelFactor) -> Quantity:
    return Quantity(
        kind="lognormal",
        value=factor.mean,
        sd=factor.mean * factor.cov,
        unit="1",
        basis=factor.basis,
        source=factor.source,
        above=0.0,
    )


def option_faults(file: StudyFile) -> Iterator[Fault]:
    """Yield what is wrong with the study's choices of method, and mechanisms that the catalogue does not know."""
    known = catalogue()
    for key, mechanism, path, entries in _stated(file):
        names = [*known, *(shared_factors() if key == "model_factors" else ())]
        if mechanism not in names:
            yield file.fault(path, mechanism, f"one of {', '.join(names)}{near_matches(mechanism, names)}")
        elif key == "models":
            for name, (place, value) in entries.items():
                yield from _option(file, place, known[mechanism], name, value)


def factor_faults(file: StudyFile, members: Mapping[str, set[str]]) -> Iterator[Fault]:
    """Yield the model factors that the study states of members that do not exist.

    Parameters
    ----------
    file
        The study.
    members
        Mechanism to the members that it has anywhere in this study.
    """
    for key, mechanism, _, entries in _stated(file):
        if key != "model_factors":
            continue
        there = sorted(members.get(mechanism, set()) | shared_factors().get(mechanism, set()))
        for name, (place, _value) in entries.items():
            if name not in there:
                wanted = (
                    f"a member of it: {', '.join(there)}" if there else "no factor: it has no member here"
                )
                yield file.fault(place, name, f"{wanted}{near_matches(name, there)}")


Place = tuple[str | int, ...]


def _stated(file: StudyFile) -> Iterator[tuple[str, str, Place, dict[str, tuple[Place, object]]]]:
    """Yield what the study says of each mechanism, each entry with its place in the file, each place once."""
    seen: set[Place] = set()
    for section in file.sections:
        for key in ("models", "model_factors"):
            for mechanism, entries in getattr(section.study, key).items():
                placed = {
                    name: (section.path((key, mechanism, name)), value) for name, value in entries.items()
                }
                new = {name: entry for name, entry in placed.items() if entry[0] not in seen}
                seen.update(place for place, _ in new.values())
                if new:
                    yield key, mechanism, section.path((key, mechanism)), new


def _option(file: StudyFile, path: Place, mechanism: Mechanism, name: str, value: object) -> Iterator[Fault]:
    """Yield what is wrong with one choice of method."""
    option = mechanism.options.get(name)
    if option is None:
        known = ", ".join(mechanism.options) or "none, this mechanism has no choices"
        yield file.fault(path, f"the key {name}", f"one of {known}{near_matches(name, mechanism.options)}")
    elif option.choices:
        if value not in option.choices:
            hint = near_matches(str(value), option.choices)
            yield file.fault(path, repr(value), f"one of {', '.join(option.choices)}{hint}")
    else:
        low, high = option.lowest, option.highest
        number = isinstance(value, int | float) and not isinstance(value, bool)
        fits = number and (low is None or value >= low) and (high is None or value <= high)  # type: ignore[operator]
        if not fits:
            between = f" from {low:g} to {high:g}" if low is not None and high is not None else ""
            yield file.fault(path, repr(value), f"a number{between}")
