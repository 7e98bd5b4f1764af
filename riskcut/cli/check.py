"""``riskcut check``: the study in order, and what a run would analyse."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from riskcut.analysis.binding import Bound, bind
from riskcut.cli.opening import open_study


def report(study: Path, *, as_json: bool) -> str:
    """Return what ``check`` prints of a study that is in order.

    Raises
    ------
    StudyError
        With every fault of the study.
    """
    bound = bind(open_study(study))
    content = _content(bound)
    return json.dumps(content, indent=2, ensure_ascii=False) if as_json else "\n".join(_text(content))


def _content(bound: Bound) -> dict[str, Any]:
    variables: dict[str, dict[str, Any]] = {}
    for column in bound.compiled.columns:
        entry = variables.setdefault(
            column.address,
            {
                "distribution": column.quantity.kind,
                "mean": column.quantity.value,
                "standard_deviation": column.quantity.sd,
                "unit": column.quantity.unit,
                "values": len(column.quantity.from_data.values) if column.quantity.from_data else 0,
                "basis": column.quantity.basis,
                "stated_in_study": bound.compiled.file.states(column.address),
                "draws": 0,
            },
        )
        entry["draws"] += 1
    return {
        "title": bound.compiled.file.study.title,
        "blocks": [
            {
                "section": block.template.section,
                "stage": block.template.stage,
                "phase": block.template.phase,
                "target": block.template.target.beta,
                "limit_states": [s.label for s in block.applying if s.member.governing],
                "shown_beside": [s.label for s in block.applying if not s.member.governing],
                "not_applicable": {s.label: s.member.not_applicable for s in block.states if not s.applies},
            }
            for block in bound.blocks
        ],
        "uncertain_inputs": variables,
        "files": [{"name": f.name, "sha256": f.sha256} for f in bound.compiled.file.files],
    }


def _text(content: dict[str, Any]) -> Iterator[str]:
    blocks, variables = content["blocks"], content["uncertain_inputs"]
    sections = list(dict.fromkeys(block["section"] for block in blocks))
    draws = sum(entry["draws"] for entry in variables.values())
    yield f"{content['title']}: in order"
    for section in sections:
        yield ""
        yield f"section {section}"
        width = max(len(block["stage"]) for block in blocks)
        for block in (b for b in blocks if b["section"] == section):
            states = ", ".join(block["limit_states"]) or "nothing applies"
            yield f"  {block['stage']:<{width}}  {block['phase']}, beta {block['target']:g}: {states}"
    yield ""
    yield f"{len(variables)} uncertain inputs, {draws} draws"
    width = max((len(name) for name in variables), default=0)
    for name, entry in variables.items():
        of = f" of {entry['values']} values" if entry["values"] else ""
        spread = (
            f"{entry['distribution']}{of}, mean {entry['mean']:.4g}, sd {entry['standard_deviation']:.3g}"
        )
        unit = "" if entry["unit"] == "1" else f" {entry['unit']}"
        whose = entry["basis"].replace("_", " ") + (
            "" if entry["stated_in_study"] else ", the mechanism's default"
        )
        yield f"  {name:<{width}}  {spread}{unit} ({whose})"
    bare = [name for name, entry in variables.items() if entry["basis"] == "not_stated"]
    if bare:
        yield ""
        yield f"Without a stated basis (measured, published, judgement): {', '.join(bare)}"
