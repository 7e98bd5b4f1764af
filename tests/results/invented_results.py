"""What a results tree is made of, with every array of the table; invented throughout."""

from __future__ import annotations

from typing import Any

import numpy as np

from riskcut.results import files
from riskcut.results.names import ATTRIBUTES, TABLE
from riskcut.results.status import Status
from riskcut.results.vocabulary import blank

FILES = [
    ("quay_box.yaml", b"title: Quay box\r\n"),
    ("data/vane.csv", b"\xef\xbb\xbfdepth,su\n1.0,14\n"),
    ("empty.txt", b""),
    ("bytes.bin", bytes(range(256)) * 8),
]


def coordinates() -> dict[str, list[Any]]:
    return {
        "section": ["west", "east"],
        "stage": ["first dig", "props in", "last dig"],
        "limit_state": ["plug_uplift/strip", "prop_overload/upper", "prop_overload/lower"],
        "variable": [
            "ground.head",
            "ground.strata.clay.su",
            "ground.strata.clay.unit_weight",
            "works.wall.toe",
        ],
        "constant": ["works.cut.width", "ground.strata.sand.top"],
        "quantile": [0.05, 0.5, 0.95],
        "sample_size": [8192, 65536],
        "margin_bin": [0, 1, 2, 3],
        "stratum": ["clay", "sand"],
        "prop": ["upper", "lower"],
        "edge_load": ["crane"],
        "scenario": ["as planned", "wells_lost"],
    }


def attributes() -> dict[str, Any]:
    given: dict[str, Any] = {name: f"invented {name}" for name in ATTRIBUTES}
    return given | {"seed": 0, "block_rows": 8192, "not_covered": "ground movement\nslope stability"}


def arrays() -> dict[str, dict[str, Any]]:
    """Fill every array of the table: each number there, each status computed, each flag set."""
    sizes = {name: len(labels) for name, labels in coordinates().items()}
    sizes |= {
        "bound": 2,
        "dependence": 2,
        "variable_2": 4,
        "draw": 5,
        "parameter": 3,
        "margin_edge_index": 5,
        "step": 6,
    }
    rng = np.random.default_rng(8)
    groups: dict[str, dict[str, Any]] = {}
    for group, table in TABLE.items():
        if group == "files":
            groups[group] = files.pack(FILES)
            continue
        groups[group] = {}
        for name, entry in table.items():
            array = blank(group, name, sizes)
            if entry.kind == "real":
                array[...] = rng.uniform(0.1, 0.9, array.shape)
                if "bound" in entry.dims:
                    array.sort(axis=-1)
            elif entry.kind == "status":
                array[...] = Status.COMPUTED
            elif entry.kind == "flag":
                array[...] = 1
            elif entry.kind == "text":
                array[...] = f"{name}, Böschung, kN/m³"
            else:
                array[...] = rng.integers(0, 1000, array.shape)
            groups[group][name] = array
    return groups
