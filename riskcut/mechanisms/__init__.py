"""The mechanisms: one file for each way in which the works may fail.

A mechanism is found by being in this folder: :func:`catalogue` imports every module here and keeps those
that hold a :class:`~riskcut.mechanisms.contract.Mechanism` under the name ``MECHANISM``. To add one,
add a file; nothing else has a list of them.
"""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from riskcut.mechanisms.contract import Mechanism


def catalogue() -> dict[str, Mechanism]:
    """Return every mechanism of this folder by its name, in alphabetical order.

    Returns
    -------
    dict
        From name to mechanism; a fresh dictionary at each call (the look-up itself is made once).

    Raises
    ------
    TypeError
        If a module's ``MECHANISM`` is not a :class:`~riskcut.mechanisms.contract.Mechanism`.
    ValueError
        If a mechanism's name is not that of its file.
    """
    return dict(_found())


@cache
def _found() -> tuple[tuple[str, Mechanism], ...]:
    """Import the modules of this folder and keep what they offer."""
    found: dict[str, Mechanism] = {}
    for module in pkgutil.iter_modules(__path__):
        offered = getattr(importlib.import_module(f"{__name__}.{module.name}"), "MECHANISM", None)
        if offered is None:
            continue
        if not isinstance(offered, Mechanism):
            raise TypeError(f"MECHANISM of {module.name}.py is a {type(offered).__name__}, not a Mechanism")
        if offered.name != module.name:
            raise ValueError(
                f"the mechanism of {module.name}.py is named {offered.name!r}: name it after its file"
            )
        found[offered.name] = offered
    return tuple(sorted(found.items()))
