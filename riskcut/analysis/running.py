"""A run: from a study to the results tree."""

from __future__ import annotations

import json
import platform
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version
from typing import Any, Literal

import numpy as np
import xarray as xr
from scipy.special import ndtr

from riskcut import __version__
from riskcut.analysis.binding import Bound, bind
from riskcut.analysis.gather_constants import constants
from riskcut.analysis.gather_cut import cut
from riskcut.analysis.gather_design import design_points
from riskcut.analysis.gather_hand import hand
from riskcut.analysis.gather_inputs import inputs, variables
from riskcut.analysis.gather_reliability import Gatherer
from riskcut.analysis.gather_sensitivity import sensitivity
from riskcut.mechanisms import catalogue
from riskcut.reliability import another_method
from riskcut.reliability.assessment import Assessment, assess, counted
from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.plan import Pilot, Plan, pilot, rows_wanted
from riskcut.reliability.problem import ImpossibleRows
from riskcut.reliability.streams import BLOCK_ROWS
from riskcut.results import files
from riskcut.results.summary import summary
from riskcut.results.vocabulary import assemble
from riskcut.results.wording import CAUTION
from riskcut.study.events import AS_PLANNED
from riskcut.study.reading import StudyFile

PACKAGES = (
    "numpy",
    "scipy",
    "SALib",
    "xarray",
    "h5netcdf",
    "h5py",
    "pydantic",
    "pint",
    "ruamel.yaml",
    "matplotlib",
)
QUANTILES = [0.05, 0.25, 0.5, 0.75, 0.95]
METHODS = {
    "auto": "plain simulation, and importance sampling about design points",
    "plain": "plain simulation",
}
NO_EVENTS = "loss of a pump or a well (the study states no event)"
NOT_MODELLED = (
    "ground movement",
    "overall and longitudinal stability",
    "wall toe and wall bending",
    "loss of a prop",
)
"""Of the whole program; each mechanism adds its own."""

Progress = Callable[[str, int, int], None]


def untold(*_: object) -> None:
    """Take what a :data:`Progress` takes, and tell nobody."""


class AnalysisError(Exception):
    """A study that is in order could not be analysed to the end."""

    exit_code = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How a run is done. Every figure depends on these and the study alone."""

    seed: int = 1
    method: Literal["auto", "plain"] = "auto"
    """``auto`` aims samples at the failures that plain simulation sees too few of; ``plain`` does without."""
    coefficient_of_variation: float = 0.05
    """Wanted of each estimate that the pilot saw."""
    pilot_blocks: int = 8
    cap_blocks: int = 256
    """Most blocks of 8,192 rows of a plain simulation."""
    check_blocks: int = 32
    """Blocks of the plain simulation beside aimed samples, which it is held against; in a long cut fewer."""
    check_margin_evaluations: float = 24e6
    """Most limit states times rows of that simulation."""
    cap_aimed_rows: int = 65_536
    """Most rows aimed at the failures of one stage, or of one system."""
    cap_margin_evaluations: float = 64e6
    """Most limit states times rows, which is what a run's time goes by: a long cut draws fewer rows."""
    margin_bins: int = 120
    detail_blocks: int = 64
    """First blocks that the histograms and the quantiles of the factor of safety are taken from."""
    base_rows: int = 512
    """Of each scramble of the Sobol' design."""
    scrambles: int = 16
    chunk_blocks: int = 1
    """Does not change a bit of the answer, nor does ``workers``."""
    workers: int = 1


def analyse(file: StudyFile, settings: Settings, progress: Progress = untold) -> xr.DataTree:
    """Run a study.

    Parameters
    ----------
    file
        The study.
    settings
        Seed and size.
    progress
        Called with the phase and how much of it is done.

    Returns
    -------
    xarray.DataTree
        The results.

    Raises
    ------
    StudyError
        Where the study names what does not exist.
    AnalysisError
        Where too many rows have an impossible geometry.
    """
    bound = bind(file)
    if not bound.problem.components:
        raise AnalysisError(
            f"{file.source.file}: no limit state applies at any stage, so there is nothing to analyse"
        )
    computing: dict[str, Any] = {"chunk_blocks": settings.chunk_blocks, "workers": settings.workers}
    try:
        first = pilot(
            bound.problem,
            seed=settings.seed,
            blocks=settings.pilot_blocks,
            bins=settings.margin_bins,
            progress=lambda done, total: progress("pilot", done, total),
            **computing,
        )
        plan = _plan(bound, settings, first)
        tally = simulate(
            bound.problem,
            seed=settings.seed,
            blocks=plan.blocks,
            purpose="simulation",
            edges=first.edges,
            checkpoints=checkpoints(plan.blocks),
            detail_blocks=min(settings.detail_blocks, plan.blocks),
            progress=lambda done, total: progress("simulation", done, total),
            **computing,
        )
    except ImpossibleRows as error:
        raise AnalysisError(f"{file.source.file}: {error}; see the levels of that stage") from None
    if settings.method == "plain":
        assessment = counted(bound.problem, first, tally)
    else:
        assessment = assess(
            bound.problem,
            first,
            tally,
            seed=settings.seed,
            targets=target_probability(bound),
            coefficient_of_variation=settings.coefficient_of_variation,
            cap_rows=settings.cap_aimed_rows,
            workers=settings.workers,
            progress=lambda done, total: progress("aiming", done, total),
        )
    coords = _coords(bound, plan, settings)
    groups = Gatherer(bound, first, tally, assessment, coords, QUANTILES).gather()
    groups["reliability"]["method"] = _method(settings, assessment)
    if assessment.searches:
        groups["design_point"] = design_points(bound, assessment, coords)
    groups["inputs"] = inputs(bound, QUANTILES)
    groups["sensitivity"] = sensitivity(
        bound,
        coords,
        seed=settings.seed,
        base_rows=settings.base_rows,
        scrambles=settings.scrambles,
        workers=settings.workers,
        progress=lambda done, total: progress("sensitivity", done, total),
    )
    groups["cut"] = cut(bound, coords)
    groups["hand"] = hand(bound, assessment, coords)
    groups["files"] = files.pack([(f.name, f.content) for f in file.files])
    tree = assemble(file.study.title, coords, groups, _attributes(bound, plan, settings, assessment.capped))
    tree.attrs["summary"] = summary(tree)
    return tree


def _method(settings: Settings, assessment: Assessment) -> str:
    """Return how the figures were found, other methods named where any took one over."""
    figures = (*assessment.states.values(), *assessment.unions.values())
    others = sorted({figure.method for figure in figures} & another_method.METHODS)
    return METHODS[settings.method] + (
        f", and {' and '.join(others)} where those leave a doubt" if others else ""
    )


def _plan(bound: Bound, settings: Settings, first: Pilot) -> Plan:
    """Fix the size of the plain simulation: the whole answer, or what aimed samples are held against."""
    if settings.method == "auto":
        blocks = plain_blocks(settings, bound)
        reason = f"{blocks * BLOCK_ROWS:,} rows of plain simulation, beside samples aimed at the failures."
        return Plan(blocks=blocks, reason=reason, capped=False)
    return rows_wanted(
        first,
        target_probability=target_probability(bound),
        coefficient_of_variation=settings.coefficient_of_variation,
        least_blocks=settings.pilot_blocks,
        cap_blocks=most_blocks(settings, bound),
        sized_by=set(target_probability(bound)),
    )


def checkpoints(blocks: int) -> tuple[int, ...]:
    """Return the numbers of blocks after which the convergence is recorded: four in each doubling, at most."""
    steps = {min(blocks, round(2 ** (i / 4))) for i in range(4 * blocks.bit_length() + 1)}
    return tuple(sorted(steps))


def most_blocks(settings: Settings, bound: Bound) -> int:
    """Return the most blocks that a run of this study may draw."""
    by_work = int(settings.cap_margin_evaluations / (bound.problem.limit_states * BLOCK_ROWS))
    return max(min(settings.cap_blocks, by_work), settings.pilot_blocks)


def plain_blocks(settings: Settings, bound: Bound) -> int:
    """Return the blocks of the plain simulation beside aimed samples."""
    by_work = int(settings.check_margin_evaluations / (bound.problem.limit_states * BLOCK_ROWS))
    wanted = max(min(settings.check_blocks, by_work), settings.pilot_blocks)
    return min(wanted, most_blocks(settings, bound))


def target_probability(bound: Bound) -> dict[str, float | None]:
    """Return, by part, the failure probability that its limit states have to stay below."""
    return {
        part.name: float(ndtr(-block.template.target.beta))
        for block in bound.blocks
        for part in bound.parts[block.key]
    }


def _coords(bound: Bound, plan: Plan, settings: Settings) -> dict[str, list[Any]]:
    templates = bound.compiled.templates

    def met(labels: list[str]) -> list[Any]:
        return list(dict.fromkeys(labels))

    return {
        "section": met([t.section for t in templates]),
        "stage": list(bound.compiled.file.stages),
        "limit_state": list(bound.labels),
        "variable": list(variables(bound)),
        "constant": list(constants(bound)),
        "quantile": QUANTILES,
        "sample_size": [blocks * BLOCK_ROWS for blocks in checkpoints(plan.blocks)],
        "scenario": list(dict.fromkeys([AS_PLANNED, *(block.template.scenario for block in bound.events)])),
        "margin_bin": list(range(settings.margin_bins)),
        "stratum": met([s.name for b in bound.blocks for s in b.at_means.strata]),
        "edge_load": met([load.name for b in bound.blocks for load in b.at_means.edge_loads]),
        "prop": met([p.name for b in bound.blocks for p in b.at_means.props]),
    }


def _attributes(bound: Bound, plan: Plan, settings: Settings, capped: int) -> dict[str, Any]:
    applying = {state.mechanism.name for block in bound.blocks for state in block.applying}
    events = () if bound.events else (NO_EVENTS,)
    own = [limit for name in sorted(applying) for limit in catalogue()[name].not_covered]
    cap = (
        f" {capped} aimed samples wanted more rows than the cap of {settings.cap_aimed_rows:,}."
        if capped
        else ""
    )
    now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    return {
        "history": f"{now} riskcut {__version__} run; {plan.reason}{cap}",
        "caution": CAUTION,
        "riskcut_version": __version__,
        "package_versions": json.dumps({name: version(name) for name in PACKAGES}),
        "cpu": _cpu(),
        "python_version": platform.python_version(),
        "seed": settings.seed,
        "block_rows": BLOCK_ROWS,
        "study_file": bound.compiled.file.files[0].name,
        "not_covered": "\n".join(dict.fromkeys((*events, *NOT_MODELLED, *own))),
        "summary": "",
    }


def _cpu() -> str:
    """Return the kind of processor: the same bits come only from the same kind."""
    features = np._core._multiarray_umath.__cpu_features__  # type: ignore[attr-defined]
    best = next(
        (name for name in ("AVX512_SPR", "AVX512_SKX", "AVX2", "ASIMD") if features.get(name)), "baseline"
    )
    return f"{platform.machine()}, {best}"
