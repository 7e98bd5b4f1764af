"""``riskcut show``: a results file told again, from itself alone."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

import xarray as xr

from riskcut.results import files, reading, writing
from riskcut.results.data_inputs import data_inputs
from riskcut.results.plain import plain
from riskcut.results.status import Status
from riskcut.results.wording import limit_state_label

WIDTH = 106
"""Of a line, as the summary has it."""


def show(results: Path, *, as_json: bool, every: bool) -> str:
    """Return what ``show`` prints: the answer of the run, or every estimate of it, and the run's particulars.

    Raises
    ------
    ResultsError
        Where the file holds no results.
    """
    tree = writing.read(results)
    if as_json:
        inputs = [asdict(one) for one in data_inputs(tree)]
        told_as = {**plain(tree), "inputs_from_data": inputs, "run": _particulars(tree)}
        return json.dumps(told_as, indent=2, ensure_ascii=False)
    answer = "\n".join(_every(tree)) if every else str(tree.attrs["summary"])
    told = [f"  {name}: {value}" for name, value in _particulars(tree).items() if isinstance(value, str)]
    kept = [f"  {name}  sha256 {digest}" for name, digest in _files(tree)]
    from_data = [f"  {line}" for line in _from_data(tree)]
    return "\n".join(
        [
            answer,
            *(["", "Inputs from data", *from_data] if from_data else []),
            "",
            "The run",
            *told,
            "  input files inside:",
            *(f"  {line}" for line in kept),
        ]
    )


def _from_data(tree: xr.DataTree) -> Iterator[str]:
    """Yield what each input that was had from data was had from, and the parameters that came of it."""
    for one in data_inputs(tree):
        of = f"{one.values} values of {one.file}" + (f", column {one.column}" if one.column else "")
        how = f"{one.kind} fitted to" if one.parameters else "empirical, the"
        yield f"{one.variable}: {how} {of}"
        for fitted in one.parameters:
            unit = "" if fitted.unit == "1" else f" {fitted.unit}"
            spread = f"standard error {fitted.standard_error:.2g}{unit}"
            yield f"  {fitted.name} {fitted.value:.4g}{unit}, {spread}"
        if one.parameters:
            fit = f"log-likelihood {one.log_likelihood:.2f}. {one.distance}"
            yield from textwrap.wrap(fit, WIDTH, initial_indent="  ", subsequent_indent="  ")


def _every(tree: xr.DataTree) -> Iterator[str]:
    """Yield a line for each estimate, stage by stage."""
    for section in reading.labels(tree, "section"):
        for stage in reading.labels(tree, "stage"):
            found = reading.estimates(tree, section=section, stage=stage)
            if not found:
                continue
            yield f"{section}, {stage}"
            width = max(len(limit_state_label(e.limit_state)) for e in found)
            for e in found:
                beside = "" if reading.governs(tree, e) else ", shown beside"
                reason = f" ({e.reason})" if e.reason else ""
                name = limit_state_label(e.limit_state)
                by = (
                    f", by {e.estimated_by}"
                    if e.estimated_by and e.status is not Status.FIRST_ORDER_ONLY
                    else ""
                )
                told = f"{e.probability_text}{by}, beta {e.index_text}, {e.verdict}{beside}{reason}"
                yield f"  {name:<{width}}  {told}"
            yield f"  {'the stage as a system':<{width}}  {reading.stage_system(tree, section, stage).probability_text}"


def _particulars(tree: xr.DataTree) -> dict[str, object]:
    """Return what a reader needs to trust a run, or to do it again."""
    versions = json.loads(tree.attrs["package_versions"])
    return {
        "riskcut": str(tree.attrs["riskcut_version"]),
        "seed": str(tree.attrs["seed"]),
        "rows": f"{int(tree['reliability']['rows']):,} in blocks of {int(tree.attrs['block_rows']):,}",
        "aimed rows": f"{int(tree['reliability']['aimed_rows']):,}",
        "margin evaluations": f"{int(tree['reliability']['margin_evaluations']):,}",
        "method": str(tree["reliability"]["method"].item()),
        "history": str(tree.attrs["history"]),
        "python": str(tree.attrs["python_version"]),
        "processor": str(tree.attrs["cpu"]),
        "packages": ", ".join(f"{name} {version}" for name, version in versions.items()),
        "files": [{"name": name, "sha256": digest} for name, digest in _files(tree)],
    }


def _files(tree: xr.DataTree) -> list[tuple[str, str]]:
    """Return the input files inside, each checked against its hash."""
    held = files.unpack(tree)
    digests = tree["files"]["sha256"].to_numpy()
    return [(name, str(digest)) for (name, _), digest in zip(held, digests, strict=True)]
