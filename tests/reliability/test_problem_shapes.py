"""Components and problems that do not hang together are refused by name."""

from __future__ import annotations

import numpy as np
import pytest
from reliability_cases import STANDARD, beyond, component, single

from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.problem import Component, Problem, Response
from riskcut.uncertainty.joint import Joint


def test_one_limit_state_is_evaluated_alone():
    asked = []

    def respond(x, which):
        asked.append(list(which))
        return Response(margin=np.stack([(k + 1.0) - x[:, 0] for k in which]).T)

    one = component("one", respond, columns=(0,), labels=("a", "b", "c"))
    x = np.array([[0.5], [2.5]])
    np.testing.assert_array_equal(one.margins(x, [2]), [[2.5], [0.5]])
    np.testing.assert_array_equal(one.margins(x, [1, 0]), [[1.5, 0.5], [-0.5, -1.5]])
    assert asked == [[2], [1, 0]]


@pytest.mark.parametrize("part", ["margin", "ratio", "outside"])
def test_answers_of_the_wrong_shape(part):
    def respond(x, _which):
        arrays = {
            "margin": np.ones((len(x), 2)),
            "ratio": np.ones((len(x), 2)),
            "outside": np.ones((len(x), 2), bool),
        }
        arrays[part] = arrays[part][:, :1]
        return Response(**arrays)

    with pytest.raises(
        ValueError, match=rf"component 'one' answered a {part} of \(8192, 1\), not \(8192, 2\)"
    ):
        simulate(single(respond, labels=("a", "b")), seed=1, blocks=1, purpose="a")


def test_components_that_contradict_themselves():
    with pytest.raises(ValueError, match="has no limit state"):
        component("one", beyond(1.0), columns=(0,), labels=())
    with pytest.raises(ValueError, match="has 1 limit states and 2 flags"):
        component("one", beyond(1.0), columns=(0,), governing=(True, False))
    with pytest.raises(ValueError, match="names a limit state twice: a, a"):
        Component("one", "g", (0,), ("a", "a"), (True, True), beyond(1.0, 2.0))


def test_problems_that_contradict_themselves():
    joint = Joint([STANDARD])
    one = component("one", beyond(1.0), columns=(0,))
    with pytest.raises(ValueError, match="at least one component"):
        Problem(joint, ())
    with pytest.raises(ValueError, match="components share a name: one"):
        Problem(joint, (one, one))
    with pytest.raises(ValueError, match="component 'far' reads column 1; there are 1"):
        Problem(joint, (component("far", beyond(1.0), columns=(1,)),))
    assert (
        Problem(
            joint, (one, component("two", beyond(1.0, 2.0), columns=(0,), labels=("a", "b")))
        ).limit_states
        == 3
    )


def test_the_probability_side_knows_nothing_of_soil():
    import subprocess
    import sys

    code = (
        "import sys, riskcut.reliability.plan, riskcut.reliability.system; "
        "unwanted = ('riskcut.study', 'riskcut.ground', 'riskcut.mechanisms', 'scipy.stats', 'matplotlib'); "
        "print([m for m in sys.modules if m.startswith(unwanted)])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
