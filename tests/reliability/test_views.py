"""Views: unions of the same components are one, and a component is at home in the smallest."""

from __future__ import annotations

import numpy as np

from riskcut.reliability.problem import Component, Problem, Response
from riskcut.reliability.views import views, waves
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Normal


def component(name: str, unions: tuple[str, ...], limit_states: int = 1) -> Component:
    labels = tuple(f"{name}{k}" for k in range(limit_states))
    return Component(
        name=name,
        unions=unions,
        columns=(0,),
        labels=labels,
        governing=(True,) * limit_states,
        respond=lambda x, which: Response(np.repeat(x, len(which), axis=1)),
    )


def test_unions_of_the_same_components_are_one_view():
    joint = Joint([Normal(mean=0.0, sd=1.0)])
    problem = Problem(
        joint,
        (
            component("a", ("first stage", "section", "whole")),
            component("b", ("second stage", "section", "whole"), 3),
            component("c", ()),
        ),
    )
    found = {view.components: view for view in views(problem)}
    assert set(found) == {(0,), (1,), (0, 1), (2,)}
    assert found[0, 1].unions == ("section", "whole")
    assert found[0, 1].at_home == frozenset()
    assert found[(0,)].at_home == {0}
    assert found[(1,)].at_home == {1}
    assert found[(2,)].unions == ()
    assert found[(2,)].at_home == {2}


def test_every_component_is_at_home_once():
    joint = Joint([Normal(mean=0.0, sd=1.0)])
    problem = Problem(
        joint,
        (
            component("shared", ("as planned", "if an event happens")),
            component("planned", ("as planned",), 2),
            component("event", ("if an event happens",)),
        ),
    )
    homes = [place for view in views(problem) for place in view.at_home]
    assert sorted(homes) == [0, 1, 2]
    # The smaller of its two unions, by limit states.
    (home,) = [view for view in views(problem) if 0 in view.at_home]
    assert home.unions == ("if an event happens",)


def test_a_view_comes_after_what_it_takes_up():
    joint = Joint([Normal(mean=0.0, sd=1.0)])
    problem = Problem(
        joint,
        (
            component("shared", ("first", "first if it happens", "whole", "whole if it happens")),
            component("planned", ("first", "whole"), 2),
            component("event", ("first if it happens", "whole if it happens"), 3),
            component("second", ("second", "whole", "whole if it happens"), 2),
            component("alone", ()),
        ),
    )
    every = views(problem)
    told = waves(every)
    assert sorted(every, key=every.index) == sorted((view for wave in told for view in wave), key=every.index)
    when = {view.unions or view.components: k for k, wave in enumerate(told) for view in wave}
    assert when["first",] == when["second",] == when[4,] == 0
    assert when["first if it happens",] == 1  # after the shared component's home
    assert when["whole",] == 1
    assert when["whole if it happens",] == 2
    for k, wave in enumerate(told):
        home = set().union(*(view.at_home for before in told[: k + 1] for view in before))
        assert all(set(view.components) <= home for view in wave)
