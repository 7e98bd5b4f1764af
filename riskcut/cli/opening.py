"""A study from what the user names: a study file, or the results file of an earlier run."""

from __future__ import annotations

from pathlib import Path

from riskcut.study.errors import Fault, StudyError
from riskcut.study.reading import StudyFile, parse_study, read_study

RESULTS_SUFFIX = ".nc"


def open_study(path: Path) -> StudyFile:
    """Return the study in a file; of a results file, the study and the data that it holds.

    Raises
    ------
    StudyError
        Where there is no study that can be used.
    """
    if path.suffix != RESULTS_SUFFIX:
        return read_study(path)
    from riskcut.results import files, writing
    from riskcut.results.errors import ResultsError

    try:
        held = files.unpack(writing.read(path))
    except (ResultsError, OSError) as error:
        wanted = "a results file of riskcut, or a study file"
        raise StudyError(str(path), [Fault(0, "", str(error), wanted)]) from None
    (name, content), data = held[0], dict(held[1:])
    return parse_study(name, content, data.get)
