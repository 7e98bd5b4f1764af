"""How far a run is: one line on a terminal that is written over, a plain line a phase elsewhere."""

from __future__ import annotations

import sys
from typing import TextIO


class Progress:
    """Tells the phases of a run on standard error."""

    def __init__(self, stream: TextIO | None = None) -> None:
        self._stream = sys.stderr if stream is None else stream
        self._terminal = self._stream.isatty()
        self._phase = ""
        self._shown = ""

    def __call__(self, phase: str, done: int, total: int) -> None:
        """Tell that ``done`` of ``total`` parts of a phase are finished."""
        if not self._terminal:
            if phase != self._phase:
                self._stream.write(f"{phase} ...\n")
                self._stream.flush()
            self._phase = phase
            return
        shown = f"{phase} {100 * done // max(total, 1)} %"
        if shown != self._shown:
            self._stream.write(f"\r{shown:<{len(self._shown)}}")
            self._stream.flush()
            self._shown = shown

    def close(self) -> None:
        """Clear the line."""
        if self._terminal and self._shown:
            self._stream.write(f"\r{'':<{len(self._shown)}}\r")
            self._stream.flush()
            self._shown = ""


class Silent:
    """Tells nothing."""

    def __call__(self, *_: object) -> None:
        """Take what :class:`Progress` takes."""

    def close(self) -> None:
        """Do nothing."""
