"""Overload of a prop by the earth, water, surcharge and warmth that a cut brings on it.

One limit state a prop that stands. The soil's part is the prop's share of an apparent pressure diagram
(:mod:`riskcut.mechanisms.apparent_pressure`), shared by simple spans (:mod:`riskcut.mechanisms.spans`):

- all drained soil over the height of the cut: the sand diagram, with water at rest added apart;
- all undrained: by N = gamma H / su the stiff diagram (N up to 4), the soft to firm one (N from 6), and
  between them the larger of the two loads, prop by prop;
- mixed: Peck's equivalent strength and unit weight, then as for clay.

Which of these holds is read row by row, as is N: a row is one possible state of the ground and is judged
by what it holds.

Only props under load share it: one that was installed after the last dig carries nothing yet, and would
wrongly relieve its neighbours. A prop takes compression only: a load per metre of wall below zero is zero.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final, cast

import numpy as np

from riskcut.ground import profile
from riskcut.mechanisms import apparent_pressure, prop_loads, reading
from riskcut.mechanisms.contract import Mechanism, Member, ModelFactor, Option, Outcome, Step, Symbol
from riskcut.mechanisms.spans import Diagram, LowestSpan, line_loads
from riskcut.study.block import Block, Number, Prop

NAME: Final = "prop_overload"

DEEP: Final = "the cut is deeper than 6 m"
FIRST_PROP: Final = "the wall stands no higher above the first prop than the span below it"
LAYERING: Final = (
    "sand, clay, or sand over clay: no drained soil below undrained soil within the height of the cut"
)

OPTIONS: Final = {
    "stiff_coefficient": Option(
        meaning="pressure of the stiff clay diagram over gamma H", default=0.3, lowest=0.2, highest=0.4
    ),
    "m": Option(
        meaning="Peck's m in the soft clay diagram: 1, or 0.4 where soft normally consolidated clay goes on "
        "below the dig; below 1 the Henkel term is left out, being its alternative",
        default=1.0,
        lowest=0.4,
        highest=1.0,
    ),
    "progressive_failure": Option(
        meaning="n' on the strength of clay in mixed ground", default=0.75, lowest=0.5, highest=1.0
    ),
    "lowest_span": Option(
        meaning="whether the lowest span ends on a support at formation, or overhangs the lowest prop",
        choices=("to_formation", "overhang"),
        default="to_formation",
    ),
}


def thermal_load(
    *, restraint: Number, expansion: Number, temperature_rise: Number, modulus: Number, area: Number
) -> Number:
    r"""Return the axial load of a prop from a change of its temperature.

    .. math:: \Delta N = k_T \, \alpha_T \, \Delta T \, E A

    Parameters
    ----------
    restraint : float or ndarray
        :math:`k_T`, 0 (free ends) to 1 (fully held); 0.8 for a stiff wall in stiff soil and 0.6 for a
        flexible wall are common.
    expansion : float or ndarray
        :math:`\alpha_T`, per degree C.
    temperature_rise : float or ndarray
        :math:`\Delta T` above the temperature at installation, degrees C; negative when cooler.
    modulus : float or ndarray
        *E*, kPa.
    area : float or ndarray
        *A*, m2.

    Returns
    -------
    float or ndarray
        kN, positive in compression. Full restraint gives steel 25.2 MPa for 10 degrees C.

    Notes
    -----
    Common practice. It carries no model factor.
    """
    return restraint * expansion * temperature_rise * modulus * area


def prop_load(
    *,
    soil: Number,
    surcharge: Number,
    water_load: Number,
    spacing: Number,
    thermal: Number,
    model_factor: Number = 1.0,
) -> Number:
    r"""Return the axial load of one prop.

    .. math:: S = s \max\left( \theta (F_s + F_q) + F_w, 0 \right) + \Delta N

    Parameters
    ----------
    soil, surcharge, water_load : float or ndarray
        The prop's share of the apparent pressure :math:`F_s`, of the surcharge's lateral pressure
        :math:`F_q` and of the water that the diagram leaves out :math:`F_w`, kN per metre of wall.
    spacing : float or ndarray
        *s* of the props along the wall, m.
    thermal : float or ndarray
        :math:`\Delta N`, kN.
    model_factor : float or ndarray
        :math:`\theta`, on what the diagram predicts; not on water or temperature.

    Returns
    -------
    float or ndarray
        kN.
    """
    return spacing * np.maximum(model_factor * (soil + surcharge) + water_load, 0.0) + thermal


def members(block: Block) -> tuple[Member, ...]:
    """Return one limit state for each prop that stands, with the reason where it carries no load yet."""
    note = _ground_in_words(block) if block.dug else ""
    return tuple(
        Member(name=prop.name, not_applicable=_reason(block, prop), note=note) for prop in block.props
    )


def evaluate(block: Block, names: Sequence[str]) -> tuple[Outcome, ...]:
    """Return resistance and load of the named props, kN, with the numbers on the way.

    Rows in which strata or loaded props cross, a loaded prop lies at or below formation, or the cut has
    no depth have a NaN resistance.

    Raises
    ------
    ValueError
        If a name is not a prop of the block that is under load.
    """
    loaded = tuple(prop for prop in block.props if prop.loaded)
    places = {prop.name: index for index, prop in enumerate(loaded)}
    for name in names:
        if name not in places:
            raise ValueError(f"no prop {name!r} is under load in this block")
    height = profile.positive(block.surface - block.formation)
    depths = tuple(np.subtract(block.surface, prop.level) for prop in loaded)
    lowest_span = cast(LowestSpan, reading.word(block, mechanism=NAME, key="lowest_span", options=OPTIONS))

    def share(diagram: Diagram) -> prop_loads.Shares:
        return line_loads(diagram, props=depths, base=height, lowest_span=lowest_span)[: len(depths)]

    loads = prop_loads.line_loads(block, height=height, share=share, choices=_choices(block))
    supports = (*depths, height)
    impossible = reading.impossible_ground(block)
    for upper, lower in pairwise(supports):
        impossible = impossible | np.less_equal(lower, upper)
    outside = {
        DEEP: np.less_equal(height, 6.0),
        LAYERING: apparent_pressure.sand_below_clay(block.strata, formation=block.formation),
    }
    if len(loaded) > 1 or lowest_span == "to_formation":
        outside[FIRST_PROP] = np.greater(depths[0], supports[1] - depths[0])
    first = Step(symbol="H", meaning="depth of the cut", unit="m", value=height)
    outcomes = []
    for name in names:
        prop, load = loaded[places[name]], loads[places[name]]
        resistance = reading.without(prop.resistance, impossible)
        action, steps = _axial(block, prop, load)
        last = Step(symbol="R", meaning="axial resistance of one prop", unit="kN", value=resistance)
        outcomes.append(
            Outcome(resistance=resistance, action=action, outside=outside, steps=(first, *steps, last))
        )
    return tuple(outcomes)


def _axial(block: Block, prop: Prop, load: prop_loads.LineLoads) -> tuple[Number, tuple[Step, ...]]:
    """Return the axial load of one prop, kN, and the steps to it."""
    theta = reading.model_factor(block, mechanism=NAME, member=prop.name)
    thermal: Number = 0.0
    if prop.area is not None and prop.modulus is not None:
        thermal = thermal_load(
            restraint=prop.restraint,
            expansion=prop.thermal_expansion,
            temperature_rise=block.temperature_rise,
            modulus=prop.modulus,
            area=prop.area,
        )
    action = prop_load(
        soil=load.soil,
        surcharge=load.surcharge,
        water_load=load.water,
        spacing=prop.spacing,
        thermal=thermal,
        model_factor=theta,
    )
    return action, (
        *load.steps,
        Step(symbol="F_s", meaning="the prop's share of the apparent pressure", unit="kN/m", value=load.soil),
        Step(symbol="F_q", meaning="the prop's share of the surcharge", unit="kN/m", value=load.surcharge),
        Step(symbol="F_w", meaning="the prop's share of the water apart", unit="kN/m", value=load.water),
        Step(symbol="theta", meaning="model factor on soil and surcharge", unit="1", value=theta),
        Step(symbol="s", meaning="spacing of the props along the wall", unit="m", value=prop.spacing),
        Step(symbol="dN", meaning="load from temperature", unit="kN", value=thermal),
        Step(symbol="S", meaning="axial load of one prop", unit="kN", value=action),
    )


def _choices(block: Block) -> prop_loads.Choices:
    """Return what the study chose of the clay diagrams, or the defaults."""
    return prop_loads.Choices(
        *(
            reading.number(block, mechanism=NAME, key=key, options=OPTIONS)
            for key in prop_loads.Choices._fields
        )
    )


def _reason(block: Block, prop: Prop) -> str | None:
    """Return why a prop has no load to be judged, None where it has."""
    if not block.dug:
        return "nothing has been dug yet"
    if not prop.loaded:
        return "the cut has not been deepened since this prop was installed"
    return None


def _ground_in_words(block: Block) -> str:
    """Say which diagram the ground calls for at the means."""
    within = {"upper": block.surface, "lower": block.formation}
    undrained = float(profile.undrained_thickness(block.strata, **within))
    drained = float(profile.drained_thickness(block.strata, **within))
    if undrained == 0.0:
        return "at the means the ground is read as sand, with water apart"
    overburden, strength = (
        float(value) for value in prop_loads.overburden_and_strength(block, _choices(block))
    )
    if overburden <= 4.0 * strength:
        diagram = "the stiff clay diagram"
    elif overburden >= 6.0 * strength:
        diagram = "the soft clay diagram"
    else:
        diagram = "the larger load of the soft and the stiff clay diagram"
    kind = "clay" if drained == 0.0 else "mixed ground by its equivalent strength"
    ratio = f" (N {overburden / strength:.2f})" if strength > 0.0 else ""
    return f"at the means the ground is read as {kind}{ratio}: {diagram}"


MECHANISM: Final = Mechanism(
    name=NAME,
    title="Prop overload",
    sentence="Earth, water, surcharge and warmth load a prop beyond its axial resistance.",
    unit="kN",
    formula=(
        "S = s max(theta (F_s + F_q) + F_w, 0) + dN; F_s, F_q, F_w by simple spans under the apparent "
        "pressure: sand 0.65 K_a gamma' H; soft clay max(gamma H - 4 m su + Delta, 0.3 gamma H); stiff clay "
        "c gamma H; under K_a q; and under the water that the sand diagram leaves out; dN = k_T alpha_T dT E "
        "A"
    ),
    symbols=(
        Symbol(symbol="S", meaning="axial load of one prop", unit="kN"),
        Symbol(symbol="R", meaning="axial resistance of one prop", unit="kN"),
        Symbol(symbol="s", meaning="spacing of the props along the wall", unit="m"),
        Symbol(symbol="F_s", meaning="the prop's share of the apparent pressure", unit="kN/m"),
        Symbol(symbol="F_q", meaning="the prop's share of the surcharge's lateral pressure", unit="kN/m"),
        Symbol(symbol="F_w", meaning="the prop's share of the water apart", unit="kN/m"),
        Symbol(symbol="H", meaning="depth of the cut", unit="m"),
        Symbol(symbol="gamma H", meaning="weight of the ground to formation", unit="kPa"),
        Symbol(symbol="u_H", meaning="pore water pressure outside at formation", unit="kPa"),
        Symbol(symbol="gamma' H", meaning="effective overburden at formation", unit="kPa"),
        Symbol(symbol="su", meaning="mean (or equivalent) undrained strength over the height", unit="kPa"),
        Symbol(symbol="N", meaning="stability number gamma H / su", unit="1"),
        Symbol(symbol="m", meaning="Peck's factor on strength in soft clay", unit="1"),
        Symbol(symbol="Delta", meaning="Henkel term of an unstable base, N of 6 or more", unit="kPa"),
        Symbol(symbol="c", meaning="coefficient of the stiff clay diagram", unit="1"),
        Symbol(symbol="K_a", meaning="Rankine's active coefficient, 1 in undrained clay", unit="1"),
        Symbol(symbol="q", meaning="surcharge beside the cut", unit="kPa"),
        Symbol(symbol="dN", meaning="load from temperature", unit="kN"),
        Symbol(symbol="k_T", meaning="restraint of the prop's ends", unit="1"),
        Symbol(symbol="alpha_T", meaning="thermal expansion of the prop", unit="1/K"),
        Symbol(symbol="dT", meaning="rise of temperature since installation", unit="degC"),
        Symbol(symbol="E", meaning="modulus of the prop", unit="kPa"),
        Symbol(symbol="A", meaning="cross-section of the prop", unit="m2"),
        Symbol(symbol="theta", meaning="model factor on what the diagram predicts", unit="1"),
    ),
    range_of_use=(
        DEEP,
        FIRST_PROP,
        LAYERING,
        "flexible walls, in place before the dig",
        "each prop goes in before the next deepening of the cut",
    ),
    sources=(
        "Peck, R. B. (1969), Deep excavations and tunnelling in soft ground, 7th Int. Conf. Soil Mech. "
        "Found. Eng., Mexico, State-of-the-Art volume, 225-290",
        "Terzaghi, K., Peck, R. B. and Mesri, G. (1996), Soil Mechanics in Engineering Practice, 3rd ed., "
        "Wiley",
        "FHWA-IF-99-015 (1999), Geotechnical Engineering Circular No. 4, Ground anchors and anchored systems",
        "Henkel, D. J. (1971), The calculation of earth pressures in open cuts in soft clays, The Arup "
        "Journal 6(4), 14-15 (recalled)",
        "Peck, R. B. (1943), Earth-pressure measurements in open cuts, Chicago subway, Trans. ASCE 108, "
        "1008-1036, as in Das, Principles of Foundation Engineering (recalled)",
        "strips and patches beside the cut: Boussinesq's stresses integrated, doubled for a wall that does not "
        "yield (Terzaghi 1954; Holl 1940, as in Poulos & Davis 1974; recalled)",
        "water pressures outside: EN 1997-1:2004, 9.6; perched water and pore pressures that go to the aquifer: "
        "steady vertical seepage, common practice (recalled)",
        "load from temperature: common practice, no one source",
    ),
    not_covered=(
        "stiff walls and locked-in stress of overconsolidated clay, which can load upper props beyond the "
        "diagrams",
        "relief by water inside a flooded cut in clay (left out: on the safe side)",
        "pore pressures of undrained ground: the diagrams of clay are of total stress, and do not follow them",
        "water above the ground surface against the wall's upstand",
        "the load that a prop takes over when a neighbour is lost",
        "the least load of a prop that is held by friction at its ends",
    ),
    factors={
        "*": ModelFactor(
            term="the prop's load from soil and surcharge (never water or temperature)",
            mean=0.75,
            cov=0.25,
            basis="judgement",
            source="the diagrams enclose the measured loads, so they predict too much on average; a mean of "
            "0.75 and a COV of 0.25 leave one prop in ten above its diagram. No calibration was read",
            correlation=0.5,
        )
    },
    members=members,
    evaluate=evaluate,
    unaffected_by=frozenset({"sumps", "rain", "water_under_slab"}),
    unaffected_where_hydrostatic=frozenset({"aquifer"}),
    options=OPTIONS,
    # For the default options and within the range of use: with an overhanging lowest span, or with a long
    # wall above the first prop, load in one place relieves a prop elsewhere.
    monotone={
        "surcharge": -1,
        "temperature_rise": -1,
        "water_inside": +1,
        "strata.*.su_at_top": +1,
        "strata.*.su_per_metre": +1,
        "props.*.resistance": +1,
        "props.*.spacing": -1,
        "model_factors.*": -1,
    },
)
