"""``riskcut new``: a commented study to begin with, by situation.

The templates are plain study files, shipped beside the schema. The first comment line of each tells in one
sentence what it describes. The second names ``study.schema.json`` beside the study, which is written along with it:
a path that holds wherever the folder goes, where one into the installed package would hold on one machine only.
"""

from __future__ import annotations

import shlex
import textwrap
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from riskcut.cli.schema import SCHEMA
from riskcut.study.errors import near_matches

WIDTH = 100


class NewStudyError(Exception):
    """A situation that is not known, or a file that is not to be written."""

    exit_code = 2


def templates() -> dict[str, Traversable]:
    """Return the template of each situation."""
    folder = files("riskcut.study") / "templates"
    found = {
        entry.name.removesuffix(".yaml"): entry for entry in folder.iterdir() if entry.name.endswith(".yaml")
    }
    return dict(sorted(found.items()))


def sentence(template: Traversable) -> str:
    """Return the one sentence that a template says of itself, in its first line."""
    return template.read_text(encoding="utf-8").partition("\n")[0].removeprefix("#").strip()


def listing() -> str:
    """Return the situations, a sentence each."""
    known = templates()
    width = max(map(len, known)) + 2
    said = [
        textwrap.fill(
            sentence(template), WIDTH, initial_indent=f"{name:<{width}}", subsequent_indent=" " * width
        )
        for name, template in known.items()
    ]
    return "\n".join(
        [*said, "", "riskcut new SITUATION writes one of them to SITUATION.yaml, to be filled in."]
    )


def write(situation: str, file: Path | None) -> str:
    """Write the template of a situation, the schema beside it, and return what is printed.

    Raises
    ------
    NewStudyError
        With what to do; nothing is written.
    """
    known = templates()
    if situation not in known:
        given = f"given the situation {situation!r}" if situation else "given no situation"
        hint = near_matches(situation, known)
        raise NewStudyError(f"{given}; wanted one of these{hint}\n\n{listing()}")
    target = file if file is not None else Path(f"{situation}.yaml")
    try:
        with target.open("xb") as study:
            study.write(known[situation].read_bytes())
    except FileExistsError:
        if target.is_dir():
            wanted = f"wanted a file, such as {target / f'{situation}.yaml'}"
            raise NewStudyError(f"{target}: given a folder; {wanted}") from None
        raise NewStudyError(
            f"{target}: given a file that is there already, and stays as it is; "
            f"wanted another name: riskcut new {situation} FILE"
        ) from None
    except FileNotFoundError:
        raise NewStudyError(f"{target}: given a folder that is not there; wanted one that is") from None
    except OSError as error:
        given = str(error.strerror).lower()
        raise NewStudyError(f"{target}: given {given}; wanted a file that can be written") from None
    named = shlex.quote(str(target))
    return "\n".join(
        [
            f"Written: {target}",
            textwrap.indent(textwrap.fill(sentence(known[situation]), WIDTH - 2), "  "),
            *_schema(target.parent / SCHEMA),
            "",
            "Its numbers are invented: put your own in their place; the comments say what each is.",
            f"Next: riskcut check {named}, then riskcut run {named}",
        ]
    )


def _schema(beside: Path) -> list[str]:
    """Write the schema beside the study where there is none, and return the lines that tell of it."""
    shipped = (files("riskcut.study") / SCHEMA).read_bytes()
    told = "  by it an editor with a YAML language server shows meaning and unit of each key; a run does not need it"
    try:
        with beside.open("xb") as schema:
            schema.write(shipped)
        return [f"Written: {beside}", told]
    except OSError:
        pass
    try:
        if beside.read_bytes() == shipped:
            return [f"There already: {beside}", told]
    except OSError:
        return [f"Not written: {beside}, which an editor could use; a run does not need it"]
    renew = f"  riskcut schema --out {shlex.quote(str(beside))} renews it for editors; a run does not need it"
    return [f"There already, and left as it is: {beside}, of another version", renew]
