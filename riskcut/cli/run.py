"""``riskcut run``: a study analysed, its results and figures written, and the answer told."""

from __future__ import annotations

import json
import os
import time
from pathlib import Path

from riskcut.analysis.running import Settings, analyse
from riskcut.cli.opening import open_study
from riskcut.cli.progress import Progress, Silent
from riskcut.results import writing


class OutputError(Exception):
    """The folder for the results cannot be used."""

    exit_code = 2


def _refuse_unusable(out: Path) -> None:
    """Refuse a folder that could not be written to, before the work and without making it yet."""
    nearest = next(path for path in (out.absolute(), *out.absolute().parents) if path.exists())
    if not nearest.is_dir() or not os.access(nearest, os.W_OK):
        raise OutputError(
            f"--out {out}: given {nearest}, which cannot be written to; wanted a folder that can"
        )


def run_study(
    study: Path,
    *,
    out: Path,
    seed: int,
    method: str,
    as_json: bool,
    quiet: bool,
    workers: int,
    figures: bool,
) -> str:
    """Run a study and return what is printed.

    Raises
    ------
    StudyError
        With every fault of the study; nothing is written.
    AnalysisError
        Where the study cannot be analysed to the end; nothing is written.
    """
    begun = time.monotonic()
    _refuse_unusable(out)
    progress = Silent() if quiet else Progress()
    try:
        file = open_study(study)
        settings = Settings(seed=seed, method="plain" if method == "plain" else "auto", workers=workers)
        tree = analyse(file, settings, progress)
        out.mkdir(parents=True, exist_ok=True)
        stem = Path(file.files[0].name).stem
        results = out / f"{stem}.nc"
        writing.write(tree, results)
        written = [results]
        if figures:
            from riskcut.figures import draw_all

            written += draw_all(
                tree, out, stem, progress=lambda done, total: progress("figures", done, total)
            )
    finally:
        progress.close()
    if as_json:
        from riskcut.results.plain import plain

        return json.dumps(
            {**plain(tree), "written": [str(path) for path in written]}, indent=2, ensure_ascii=False
        )
    names = f"{results}" + (f" and {len(written) - 1} figure files beside it" if figures else "")
    return f"{tree.attrs['summary']}\n\nWritten: {names} ({time.monotonic() - begun:.0f} s)"
