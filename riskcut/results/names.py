"""The one table of names: every array of a results file with its dims, units and meaning.

``units`` follow CF: ``1`` where there is none (probabilities, indices, counts, flags, text), ``m``, ``kPa``.
Six kinds of array hold quantities whose unit differs from row to row: they say ``see unit``,
``see draw_variable`` or ``see parameter_unit`` (inputs), ``see step_unit`` (hand calculation),
``see constant_unit`` (certain numbers) or ``see response_unit`` (resistances, actions and margins), and the text
array of that name, in the same results file, has the unit of each entry.

A real number may be missing (NaN) only where one of its ``guards`` says so: a status other than
``computed``, or a yes/no flag that is ``no``. A real number without guards is never missing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Kind = Literal["real", "integer", "byte", "status", "flag", "text"]
"""float64; int64; uint8; int8 of :class:`riskcut.results.status.Status`; int8 0 or 1; str."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the table."""

    name: str
    kind: Kind
    dims: tuple[str, ...]
    units: str
    long_name: str
    guards: tuple[str, ...] = ()
    """Status and flag variables of the same group that say where the number exists."""
    extra: Mapping[str, str] = field(default_factory=dict)
    """Further CF attributes."""


def _real(
    name: str, dims: tuple[str, ...], units: str, long_name: str, guards: tuple[str, ...] = ()
) -> Entry:
    return Entry(name, "real", dims, units, long_name, guards)


def _count(name: str, dims: tuple[str, ...], long_name: str, extra: Mapping[str, str] | None = None) -> Entry:
    return Entry(name, "integer", dims, "1", long_name, (), extra or {})


def _status(name: str, dims: tuple[str, ...], long_name: str) -> Entry:
    return Entry(name, "status", dims, "1", long_name)


def _flag(name: str, dims: tuple[str, ...], long_name: str) -> Entry:
    return Entry(name, "flag", dims, "1", long_name)


def _text(name: str, dims: tuple[str, ...], long_name: str) -> Entry:
    return Entry(name, "text", dims, "1", long_name)


_V, _D, _S, _SS = ("variable",), ("draw",), ("section",), ("section", "stage")
_P = ("parameter",)
_L = ("section", "stage", "limit_state")
_BY_VARIABLE, _BY_CONSTANT = (*_L, "variable"), (*_L, "constant")
_DEP = ("dependence",)
_OK = ("status",)
_SENS = ("sensitivity_status", "variable_status")
_RESPONSE = "see response_unit"

COORDINATES: tuple[Entry, ...] = (
    _text("section", _S, "Section of the cut"),
    _text("stage", ("stage",), "Stage of the works, in the order of building"),
    _text("limit_state", ("limit_state",), "Limit state, as mechanism/member"),
    _text("mechanism", ("limit_state",), "Mechanism of the limit state"),
    _text("member", ("limit_state",), "Member of the limit state"),
    _text("variable", _V, "Uncertain input, by its address in the study"),
    _text("variable_2", ("variable_2",), "The other uncertain input, by its address in the study"),
    _text("constant", ("constant",), "Certain number, by its address in the study"),
    _text("bound", ("bound",), "Which bound of the interval"),
    _text("dependence", _DEP, "How the sections depend on each other"),
    _real("quantile", ("quantile",), "1", "Probability of not exceeding the quantile"),
    _count("sample_size", ("sample_size",), "Rows drawn so far"),
    _count("margin_bin", ("margin_bin",), "Number of the bin of the margin"),
    _text("scenario", ("scenario",), "Scenario: the stage as planned, or the event that happens in it"),
    _text("stratum", ("stratum",), "Stratum of the ground, from the surface down"),
    _text("edge_load", ("edge_load",), "Load of plant or stores beside the cut"),
    _text("prop", ("prop",), "Level of props, from the top down"),
)
"""Root coordinates. ``mechanism`` and ``member`` are read off ``limit_state``."""

FIXED: Mapping[str, tuple[str, ...]] = {
    "bound": ("lower", "upper"),
    "dependence": ("sections share their ground", "sections independent"),
}
"""Coordinates whose labels never change; ``assemble`` fills them in."""

_INPUTS = (
    _text("kind", _V, "Kind of distribution"),
    _real("mean", _V, "see unit", "Mean of the uncertain input"),
    _real("standard_deviation", _V, "see unit", "Standard deviation of the uncertain input"),
    _real("coefficient_of_variation", _V, "1", "Standard deviation over the size of the mean",
          ("coefficient_of_variation_status",)),
    _status("coefficient_of_variation_status", _V, "Status of the coefficient of variation"),
    _real("input_quantile", (*_V, "quantile"), "see unit", "Quantile of the uncertain input"),
    _text("unit", _V, "Unit of the uncertain input"),
    _text("source", _V, "Where the numbers come from"),
    _text("basis", _V, "Measured, published or judgement"),
    _text("varies", _V, "How the input varies: constant, per stage or per section"),
    _text("stated_in", _V, "Who states the input: the study, or a mechanism's default"),
    _real("correlation", (*_V, "variable_2"), "1", "Correlation of the normal scores of two inputs"),
    _text("draw_variable", _D, "Uncertain input of the draw"),
    _text("draw_section", _D, "Section that the draw belongs to; empty: shared by all"),
    _text("draw_stage", _D, "Stage that the draw belongs to; empty: shared by all"),
    _real("draw_mean", _D, "see draw_variable", "Mean of the draw, in the unit of its variable"),
    _real("draw_standard_deviation", _D, "see draw_variable",
          "Standard deviation of the draw, in the unit of its variable"),
    _count("data_values", _V, "Number of data that the distribution was had from; 0 where it was stated"),
    _text("data_file", _V, "File of those data"),
    _text("data_column", _V, "Column of those data; empty where the file names none"),
    _flag("fitted", _V, "Whether it was fitted to them by maximum likelihood; else it is the data themselves"),
    _real("log_likelihood", _V, "1", "Natural logarithm of the likelihood of the fit", ("fitted",)),
    _text("fit_distance", _V, "How far the data stray from the fit, in words"),
    _text("parameter_variable", _P, "Uncertain input that the fitted parameter belongs to"),
    _text("parameter_name", _P, "Name of the fitted parameter"),
    _real("parameter_value", _P, "see parameter_unit", "Fitted parameter: its likeliest value"),
    _real("parameter_standard_error", _P, "see parameter_unit",
          "Standard error of the fitted parameter, from the curvature of the log-likelihood"),
    _text("parameter_unit", _P, "Unit of the fitted parameter"),
)  # fmt: skip

_PF, _BETA = "Probability of failure", "Reliability index"
_BOUNDS = ", bounds of the 95 % interval"
_FIRST = " of the section at this stage and at none before it"
_STOOD = " of the section at this stage, given that the earlier stages stood"
_STAGE, _SECTION, _ALL = " of the stage as a system", " of the section as a system", " of the whole"

_RELIABILITY = (
    _real("failure_probability", _L, "1", _PF, _OK),
    _real("failure_probability_bounds", (*_L, "bound"), "1", _PF + _BOUNDS, _OK),
    _real("reliability_index", _L, "1", _BETA, _OK),
    _real("reliability_index_bounds", (*_L, "bound"), "1", _BETA + _BOUNDS, _OK),
    _real("coefficient_of_variation_of_estimate", _L, "1",
          "Coefficient of variation of the estimate of the probability of failure", _OK),
    _text("estimated_by", _L, "How the probability of failure was estimated"),
    _count("failures", _L, "Rows that failed in the plain simulation"),
    _count("impossible_rows", _L, "Rows whose geometry is impossible; never counted as safe"),
    _real("share_outside_range", _L, "1", "Share of rows outside the range of use of the mechanism", _OK),
    _text("outside_range", _L, "Limits of the range of use that were left, and how often"),
    _real("factor_of_safety_at_means", _L, "1",
          "Resistance over action with every input at its mean; infinite where nothing acts", _OK),
    _real("resistance_at_means", _L, _RESPONSE, "Resistance with every input at its mean", _OK),
    _real("action_at_means", _L, _RESPONSE, "Action effect with every input at its mean", _OK),
    _text("response_unit", ("limit_state",), "Unit of resistance, action and margin"),
    _real("factor_of_safety_quantile", (*_L, "quantile"), "1", "Quantile of resistance over action", _OK),
    _flag("governing", _L, "Whether the limit state enters the system"),
    _text("governing_note", _L, "Why the limit state enters the system, or why it is only shown"),
    _status("status", _L, "Status of the estimate"),
    _text("reason", _L, "Why the status is what it is"),
    _text("phase", _SS, "Temporary or permanent"),
    _real("target_reliability_index", _SS, "1", "Target reliability index of one limit state",
          ("stage_applies", "has_target")),
    _text("target_source", _SS, "Where the target comes from"),
    _flag("has_target", _SS, "Whether the stage has a target"),
    _flag("stage_applies", _SS, "Whether the section has this stage"),
    _real("stage_failure_probability", _SS, "1", _PF + _STAGE, ("stage_status",)),
    _real("stage_failure_probability_bounds", (*_SS, "bound"), "1", _PF + _STAGE + _BOUNDS,
          ("stage_status",)),
    _real("stage_reliability_index", _SS, "1", _BETA + _STAGE, ("stage_status",)),
    _real("stage_reliability_index_bounds", (*_SS, "bound"), "1", _BETA + _STAGE + _BOUNDS,
          ("stage_status",)),
    _status("stage_status", _SS, "Status of the stage's system estimate"),
    _text("stage_reason", _SS, "Why the status of the stage's system is what it is"),
    _text("stage_estimated_by", _SS, "How the probability of the stage's system was estimated"),
    _real("first_failure_probability", _SS, "1", _PF + _FIRST, ("first_failure_status",)),
    _real("first_failure_probability_bounds", (*_SS, "bound"), "1", _PF + _FIRST + _BOUNDS,
          ("first_failure_status",)),
    _status("first_failure_status", _SS, "Status of the probability of failing first at the stage"),
    _text("first_failure_reason", _SS, "Why the status of the first failure is what it is"),
    _real("conditional_failure_probability", _SS, "1", _PF + _STOOD, ("conditional_status",)),
    _real("conditional_failure_probability_bounds", (*_SS, "bound"), "1", _PF + _STOOD + _BOUNDS,
          ("conditional_status",)),
    _status("conditional_status", _SS, "Status of the probability given that the earlier stages stood"),
    _text("conditional_reason", _SS, "Why the status of the conditional probability is what it is"),
    _real("section_failure_probability", _S, "1", _PF + _SECTION + ", at any stage", ("section_status",)),
    _real("section_failure_probability_bounds", (*_S, "bound"), "1",
          _PF + _SECTION + ", at any stage" + _BOUNDS, ("section_status",)),
    _real("section_reliability_index", _S, "1", _BETA + _SECTION, ("section_status",)),
    _real("section_reliability_index_bounds", (*_S, "bound"), "1", _BETA + _SECTION + _BOUNDS,
          ("section_status",)),
    _status("section_status", _S, "Status of the section's system estimate"),
    _text("section_reason", _S, "Why the status of the section's system is what it is"),
    _text("section_estimated_by", _S, "How the probability of the section's system was estimated"),
    _real("overall_failure_probability", _DEP, "1", _PF + _ALL, ("overall_status",)),
    _real("overall_failure_probability_bounds", (*_DEP, "bound"), "1", _PF + _ALL + _BOUNDS,
          ("overall_status",)),
    _real("overall_reliability_index", _DEP, "1", _BETA + _ALL, ("overall_status",)),
    _real("overall_reliability_index_bounds", (*_DEP, "bound"), "1", _BETA + _ALL + _BOUNDS,
          ("overall_status",)),
    _status("overall_status", _DEP, "Status of the estimate for the whole"),
    _text("overall_reason", _DEP, "Why the status of the whole is what it is"),
    _text("overall_estimated_by", _DEP, "How the probability of the whole was estimated"),
    _count("rows", (), "Rows of the plain simulation"),
    _count("aimed_rows", (), "Rows aimed at the failures, pilots and design points included"),
    _count("margin_evaluations", (), "Limit states evaluated, on one row each, pilots and design points included"),
    _text("method", (), "Method of the probabilities"),
    _text("conditional_on", (), "What the probabilities are conditional on"),
    _text("conditional_on_survival", (), "What it says, and does not, that the earlier stages stood"),
)  # fmt: skip

_MARGINS = (
    _count("margin_count", (*_L, "margin_bin"),
           "Rows in each bin of the margin; the outermost bins hold what lies beyond the edges"),
    _real("margin_edge", (*_L, "margin_edge_index"), _RESPONSE, "Edges of the bins of the margin",
          ("margin_status",)),
    _status("margin_status", _L, "Status of the histogram of the margin"),
)  # fmt: skip

_SENSITIVITY = (
    _real("first_order", _BY_VARIABLE, "1", "First-order Sobol' index of the margin", _SENS),
    _real("total_order", _BY_VARIABLE, "1", "Total-order Sobol' index of the margin", _SENS),
    _real("first_order_bounds", (*_BY_VARIABLE, "bound"), "1",
          "First-order Sobol' index of the margin" + _BOUNDS, _SENS),
    _real("total_order_bounds", (*_BY_VARIABLE, "bound"), "1",
          "Total-order Sobol' index of the margin" + _BOUNDS, _SENS),
    _status("sensitivity_status", _L, "Status of the sensitivities of the limit state"),
    _text("sensitivity_reason", _L, "Why the status of the sensitivities is what it is"),
    _text("leading_inputs", _L, "Which inputs decide the margin, in a sentence"),
    _status("variable_status", _BY_VARIABLE,
            "Status of the input's index; not applicable where the limit state does not read the input"),
    _count("dependent_group", _V,
           "Number of the group of dependent inputs that share one index; -1 where the input is alone"),
    _count("base_rows", (), "Base rows of each scramble"),
    _count("scrambles", (), "Independent scrambles of the design"),
    _count("sensitivity_rows", (), "Rows evaluated for the sensitivities"),
    _count("sensitivity_margin_evaluations", (),
           "Limit states evaluated, on one row each, for the sensitivities"),
)  # fmt: skip

_POINT = ("design_status", "design_variable_status")
_DESIGN = (
    _status("design_status", _L, "Status of the design point of the stage as planned"),
    _text("design_reason", _L, "Why the status of the design point is what it is"),
    _real("first_order_reliability_index", _L, "1", "Reliability index of first order: distance of the design point",
          ("design_status",)),
    _count("design_points", _L, "Design points found; what follows is of the nearest"),
    _status("second_order_status", _L, "Status of the reliability index of second order"),
    _real("second_order_reliability_index", _L, "1", "Reliability index of second order, by the curvatures there",
          ("second_order_status",)),
    _real("design_value", _BY_VARIABLE, "see unit", "Value of the input at the design point", _POINT),
    _real("importance_factor", _BY_VARIABLE, "1",
          "Square of the direction cosine of the design point; dependent inputs share one", _POINT),
    _status("design_variable_status", _BY_VARIABLE,
            "Status of the input's value; not applicable where the limit state does not read the input"),
    _real("index_per_mean", _BY_VARIABLE, "1",
          "Derivative of the first-order index with the mean of the input, times its standard deviation",
          ("index_per_mean_status",)),
    _status("index_per_mean_status", _BY_VARIABLE, "Status of the derivative with the mean"),
    _real("index_per_spread", _BY_VARIABLE, "1",
          "Derivative of the first-order index with the standard deviation of the input, times that",
          ("index_per_spread_status",)),
    _status("index_per_spread_status", _BY_VARIABLE, "Status of the derivative with the standard deviation"),
    _real("constant_value", ("constant",), "see constant_unit", "Certain number, as the study states it"),
    _text("constant_unit", ("constant",), "Unit of the certain number"),
    _real("index_sensitivity_to_constant", _BY_CONSTANT, "1",
          "Derivative of the first-order index with the certain number, per unit of it",
          ("index_sensitivity_to_constant_status",)),
    _status("index_sensitivity_to_constant_status", _BY_CONSTANT,
            "Status of the derivative with the certain number; untrusted also at a kink, where it depends on the side"),
    _real("design_residual", _L, "1",
          "Distance of the design point from the limit surface: margin over the length of its gradient by the normal"
          " scores", ("design_status",)),
    _real("design_residual_allowed", _L, "1", "Greatest such distance that the search allows", ("design_status",)),
    _real("stage_first_order_interval", (*_SS, "bound"), "1",
          "First-order bounds (Ditlevsen) of the failure of the stage as planned as a system, by bivariate normals",
          ("stage_first_order_status",)),
    _status("stage_first_order_status", _SS, "Status of the first-order bounds of the stage"),
)  # fmt: skip

_CONVERGENCE = (
    _real("convergence_failure_probability", (*_L, "sample_size"), "1", _PF + " after the first rows",
          ("convergence_status",)),
    _real("convergence_failure_probability_bounds", (*_L, "sample_size", "bound"), "1",
          _PF + " after the first rows" + _BOUNDS, ("convergence_status",)),
    _status("convergence_status", _L, "Status of the convergence record"),
)  # fmt: skip

_Q = ", 5 and 95 % quantiles"
_CUT = (
    _flag("stage_applies", _SS, "Whether the section has this stage"),
    _flag("has_stratum", (*_S, "stratum"), "Whether the section has the stratum"),
    _flag("has_wall", _S, "Whether the section has a wall"),
    _flag("has_prop", (*_S, "prop"), "Whether the section has the prop level"),
    _flag("has_slab", _S, "Whether the section has a base slab"),
    _flag("has_piles", _S, "Whether the section has tension piles"),
    _flag("has_aquifer", _S, "Whether the section has a confined aquifer"),
    _real("stratum_top", (*_S, "stratum"), "m", "Level of the top of the stratum", ("has_stratum",)),
    _real("stratum_top_bounds", (*_S, "stratum", "bound"), "m", "Level of the top of the stratum" + _Q,
          ("has_stratum",)),
    _text("stratum_kind", (*_S, "stratum"), "Whether the stratum is read as drained or undrained"),
    _real("ground_surface", _S, "m", "Level of the ground surface"),
    _real("cut_width", _S, "m", "Width of the cut: its shorter side in plan"),
    _flag("has_chainage", _S, "Whether the section's place along the cut is stated"),
    _real("chainage_start", _S, "m", "Chainage of the section's start", ("has_chainage",)),
    _real("chainage_end", _S, "m", "Chainage of the section's end", ("has_chainage",)),
    _real("wall_toe", _S, "m", "Level of the toe of the wall", ("has_wall",)),
    _real("wall_thickness", _S, "m", "Thickness of the wall", ("has_wall",)),
    _real("formation", _SS, "m", "Level of the formation", ("stage_applies",)),
    _real("formation_bounds", (*_SS, "bound"), "m", "Level of the formation" + _Q, ("stage_applies",)),
    _real("water_table", _SS, "m", "Level of the free water outside the cut", ("stage_applies",)),
    _real("water_inside", _SS, "m", "Level of the free water inside the cut", ("stage_applies",)),
    _real("aquifer_head", _SS, "m", "Piezometric level in the aquifer", ("stage_applies", "has_aquifer")),
    _real("aquifer_head_bounds", (*_SS, "bound"), "m", "Piezometric level in the aquifer" + _Q,
          ("stage_applies", "has_aquifer")),
    _text("aquifer_stratum", _S, "Stratum that is the aquifer; empty where there is none"),
    _real("prop_level", (*_S, "prop"), "m", "Level of the props", ("has_prop",)),
    _flag("prop_standing", (*_SS, "prop"), "Whether the props stand at this stage"),
    _text("prop_made", (*_S, "prop"), "How the props are made"),
    _real("slab_thickness", _S, "m", "Thickness of the base slab", ("has_slab",)),
    _flag("slab_cast", _SS, "Whether the base slab is cast by this stage"),
    _real("pile_length", _S, "m", "Length of the tension piles", ("has_piles",)),
    _real("pile_diameter", _S, "m", "Diameter of the tension piles", ("has_piles",)),
    _real("pile_spacing", _S, "m", "Spacing of the tension piles across the cut", ("has_piles",)),
    _real("pile_head", _S, "m", "Level of the head of the tension piles", ("has_piles",)),
    _flag("piles_installed", _SS, "Whether the tension piles are installed by this stage"),
    _flag("edge_load_stands", (*_SS, "edge_load"), "Whether the load stands beside the cut at this stage"),
    _real("edge_pressure", (*_SS, "edge_load"), "kPa", "Pressure of the load on its own area", ("edge_load_stands",)),
    _real("edge_distance", (*_SS, "edge_load"), "m", "From the wall's face to the load", ("edge_load_stands",)),
    _real("edge_width", (*_SS, "edge_load"), "m", "Width of the load across the wall", ("edge_load_stands",)),
    _real("surcharge", _SS, "kPa", "Surcharge on the surface beside the cut", ("stage_applies",)),
)  # fmt: skip

_SCENARIO = (*_SS, "scenario")
_SCENARIOS = (
    _flag("scenario_applies", _SCENARIO, "Whether the scenario may come about at the stage"),
    _real("scenario_probability", _SCENARIO, "1", "Probability of the scenario at the stage", ("scenario_applies",)),
    _real("scenario_failure_probability", (*_L, "scenario"), "1", _PF + ", given the scenario", ("scenario_status",)),
    _real("scenario_failure_probability_bounds", (*_L, "scenario", "bound"), "1",
          _PF + ", given the scenario" + _BOUNDS, ("scenario_status",)),
    _status("scenario_status", (*_L, "scenario"), "Status of the estimate given the scenario"),
    _text("scenario_reason", (*_L, "scenario"), "Why the status given the scenario is what it is"),
    _real("scenario_stage_failure_probability", _SCENARIO, "1", _PF + _STAGE + ", given the scenario",
          ("scenario_stage_status",)),
    _real("scenario_stage_failure_probability_bounds", (*_SCENARIO, "bound"), "1",
          _PF + _STAGE + ", given the scenario" + _BOUNDS, ("scenario_stage_status",)),
    _status("scenario_stage_status", _SCENARIO, "Status of the stage's system estimate given the scenario"),
)  # fmt: skip

_STEP = ("step",)
_HAND = (
    _text("step_section", _STEP, "Section of the step"),
    _text("step_stage", _STEP, "Stage of the step"),
    _text("step_limit_state", _STEP, "Limit state that the step belongs to"),
    _text("step_symbol", _STEP, "Symbol of the number, or address of the input"),
    _text("step_meaning", _STEP, "What the number is"),
    _text("step_unit", _STEP, "Unit of the number"),
    _flag("step_defined", _STEP, "Whether the number is defined here"),
    _real("step_value", _STEP, "see step_unit", "Number with every input at its mean", ("step_defined",)),
    _status("step_design_status", _STEP, "Status of the design point that the step is also taken at"),
    _flag("step_defined_at_design_point", _STEP, "Whether the number is defined at the design point"),
    _real("step_value_at_design_point", _STEP, "see step_unit", "Number with every input at the nearest design point",
          ("step_defined_at_design_point",)),
    _text("range_left_at_means", _L, "Limits of the range of use that are left at the means, a line each"),
    _text("range_left_at_design_point", _L,
          "Limits of the range of use that are left at the design point, a line each"),
    _text("range_of_use", ("limit_state",), "Range of use of the mechanism, a line each"),
    _text("formula", ("limit_state",), "Formula of the limit state's mechanism"),
    _text("sources", ("limit_state",), "Sources of the mechanism, a line each"),
)  # fmt: skip

_FILES = (
    _text("name", ("file",), "Name of the input file, as the study gives it"),
    _text("sha256", ("file",), "SHA-256 of the input file, in hexadecimal digits"),
    _count("length", ("file",), "Number of bytes of the input file", {"sample_dimension": "byte"}),
    Entry("content", "byte", ("byte",), "1", "Bytes of the input files, one file after the other"),
)

TABLE: Mapping[str, Mapping[str, Entry]] = {
    group: {e.name: e for e in entries}
    for group, entries in {
        "inputs": _INPUTS,
        "reliability": _RELIABILITY,
        "design_point": _DESIGN,
        "margins": _MARGINS,
        "sensitivity": _SENSITIVITY,
        "convergence": _CONVERGENCE,
        "cut": _CUT,
        "scenarios": _SCENARIOS,
        "hand": _HAND,
        "files": _FILES,
    }.items()
}
"""Group, then name, to the entry."""

ATTRIBUTES: Mapping[str, type] = {
    "history": str, "caution": str, "riskcut_version": str, "package_versions": str, "cpu": str,
    "python_version": str, "seed": int, "block_rows": int, "study_file": str, "not_covered": str,
    "summary": str,
}  # fmt: skip
"""Root attributes beside ``Conventions`` and ``title``: a results file has them all."""
