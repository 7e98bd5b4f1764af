"""``riskcut schema``: the JSON Schema by which an editor shows meaning and unit of each key of a study."""

from __future__ import annotations

import json
from pathlib import Path

from riskcut.study import json_schema

SCHEMA = "study.schema.json"
"""The name by which the templates of ``riskcut new`` refer to it, as a file beside them."""

MODELINE = f"# yaml-language-server: $schema={SCHEMA}"


class SchemaFileError(Exception):
    """The schema cannot be written where it was to go."""

    exit_code = 2


def write(out: Path) -> str:
    """Write the schema to a file and return what is printed.

    Raises
    ------
    SchemaFileError
        Where the file cannot be written, or holds something that is no JSON Schema; it is left as it is.
    """
    text = json_schema.as_text()
    try:
        if out.exists() and not is_schema(out.read_bytes()):
            raise SchemaFileError(
                f"{out}: given a file that is no JSON Schema; wanted a file to make or renew"
            )
        out.write_text(text, encoding="utf-8")
    except OSError as error:
        given = str(error.strerror).lower()
        raise SchemaFileError(f"{out}: given {given}; wanted a file that can be written") from None
    return (
        f"Written: {out}\n"
        f"An editor with a YAML language server reads it where a study beside it holds the line\n"
        f"{MODELINE.replace(SCHEMA, out.name)}"
    )


def is_schema(content: bytes) -> bool:
    """Whether the content of a file is a JSON Schema."""
    try:
        read = json.loads(content)
    except ValueError:
        return False
    return isinstance(read, dict) and "$schema" in read
