"""Same seed, same bits: whatever the chunks, the workers and the layout of the answers."""

from __future__ import annotations

import threading
import tracemalloc

import numpy as np
import pytest
from reliability_cases import STANDARD, beyond, bits, component, single

from riskcut.reliability.monte_carlo import simulate
from riskcut.reliability.problem import Problem, Response
from riskcut.reliability.streams import normals
from riskcut.uncertainty.joint import Joint
from riskcut.uncertainty.marginals import Gumbel, Lognormal, Normal, Uniform

BLOCKS = 7


def rich(order: str = "F") -> Problem:
    """Five columns, shared and correlated, three components in two groups, some rows impossible."""
    marginals = [
        Lognormal(mean=30.0, sd=9.0),
        Normal(mean=17.0, sd=0.7),
        Uniform(low=8.0, high=12.0),
        Gumbel(mean=1.1, sd=0.35),
        Gumbel(mean=1.1, sd=0.35),
    ]
    correlation = np.eye(5)
    correlation[0, 1] = correlation[1, 0] = 0.4
    correlation[3, 4] = correlation[4, 3] = 0.5

    def respond(x, which):
        strength, weight, depth, head = x.T
        heave = 6.0 * strength, weight * depth * 0.8
        uplift = weight * 6.0, 9.81 * (8.5 + head)
        margin, ratio, outside = [], [], []
        for k in which:
            resistance, action = (heave, uplift)[k]
            difference = resistance - action
            difference[depth > 11.99] = np.nan
            margin.append(difference)
            ratio.append(resistance / action)
            outside.append(depth > 11.0)
        return Response(
            margin=np.asarray(np.stack(margin).T, order=order),
            ratio=np.asarray(np.stack(ratio).T, order=order),
            outside=np.asarray(np.stack(outside).T, order=order),
        )

    labels = ("heave", "uplift")
    return Problem(
        Joint(marginals, correlation=correlation),
        (
            component("west 1", respond, columns=(0, 1, 2, 3), labels=labels, group="west"),
            component(
                "west 2", respond, columns=(0, 1, 2, 4), labels=labels, group="west", governing=(False, True)
            ),
            component("east 1", respond, columns=(0, 1, 2, 3), labels=labels, group="east"),
        ),
    )


EDGES = {"west 1": np.array([np.linspace(-100, 300, 41), np.linspace(-30, 60, 41)])}


@pytest.fixture(scope="module")
def reference():
    tally = simulate(rich(), seed=11, blocks=BLOCKS, purpose="figures", edges=EDGES, checkpoints=(1, 4, 7))
    assert min(component.impossible_rows for component in tally.components.values()) > 0
    assert min(int(component.failures.min()) for component in tally.components.values()) > 0
    return tally


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("chunk_blocks", [1, 3, 8])
def test_any_chunk_and_any_number_of_workers(reference, chunk_blocks, workers):
    tally = simulate(
        rich(),
        seed=11,
        blocks=BLOCKS,
        purpose="figures",
        edges=EDGES,
        checkpoints=(1, 4, 7),
        chunk_blocks=chunk_blocks,
        workers=workers,
    )
    assert bits(tally) == bits(reference)


def test_more_workers_than_chunks_and_answers_in_c_order(reference):
    tally = simulate(
        rich(order="C"),
        seed=11,
        blocks=BLOCKS,
        purpose="figures",
        edges=EDGES,
        checkpoints=(1, 4, 7),
        workers=9,
    )
    assert bits(tally) == bits(reference)


def test_seed_and_purpose_matter():
    def counts(seed, purpose):
        return (
            simulate(rich(), seed=seed, blocks=1, purpose=purpose).components["west 1"].margin_mean.tobytes()
        )

    assert len({counts(1, "a"), counts(2, "a"), counts(1, "b")}) == 3
    assert counts(1, "a") == counts(1, "a")


def test_checkpoints_are_the_shorter_runs(reference):
    for place, blocks in enumerate(reference.checkpoints):
        shorter = simulate(rich(), seed=11, blocks=blocks, purpose="figures")
        for name, component_tally in reference.components.items():
            other = shorter.components[name]
            np.testing.assert_array_equal(component_tally.failures_at[place], other.failures)
            np.testing.assert_array_equal(component_tally.impossible_at[place], other.impossible)
            assert component_tally.system.failures_at[place] == other.system.failures
            assert component_tally.system.impossible_at[place] == other.system.impossible
        for name, group in reference.unions.items():
            assert group.failures_at[place] == shorter.unions[name].failures
        assert reference.unions["whole"].failures_at[place] == shorter.unions["whole"].failures


def test_against_counting_by_hand(reference):
    """Draw all the rows at once with the documented streams and count with plain NumPy."""
    problem = rich()
    w = np.concatenate([normals(seed=11, purpose="figures", index=k, count=5) for k in range(BLOCKS)])
    x = problem.joint.physical(problem.joint.correlate(w))
    failed, lost = {}, {}
    for one in problem.components:
        response = one.respond(x[:, list(one.columns)], range(2))
        tally = reference.components[one.name]
        nan = np.isnan(response.margin)
        np.testing.assert_array_equal(tally.failures, (response.margin < 0).sum(axis=0))
        np.testing.assert_array_equal(tally.impossible, nan.sum(axis=0))
        np.testing.assert_array_equal(tally.outside, response.outside.sum(axis=0))
        assert tally.impossible_rows == nan.any(axis=1).sum()
        np.testing.assert_allclose(tally.margin_mean, np.nanmean(response.margin, axis=0), rtol=1e-12)
        np.testing.assert_allclose(tally.margin_sd, np.nanstd(response.margin, axis=0), rtol=1e-12)
        np.testing.assert_array_equal(tally.margin_low, np.nanmin(response.margin, axis=0))
        np.testing.assert_array_equal(tally.margin_high, np.nanmax(response.margin, axis=0))
        for j in range(2):
            t = response.ratio[~nan[:, j], j]
            expected = np.histogram(t / (1 + t), bins=8192, range=(0, 1))[0]
            moved = np.abs(np.cumsum(tally.ratio_counts[j] - expected)).max()
            assert moved <= 2  # a value within rounding of an edge may be told the other bin
            if tally.margin_counts is not None:
                inner = np.histogram(response.margin[~nan[:, j], j], bins=EDGES[one.name][j])[0]
                np.testing.assert_array_equal(tally.margin_counts[j, 1:-1], inner)
                assert tally.margin_counts[j].sum() == (~nan[:, j]).sum()
        governing = list(one.governing)
        failed[one.name] = (response.margin < 0)[:, governing].any(axis=1)
        lost[one.name] = nan[:, governing].any(axis=1)

    def check(system, names):
        any_failed = np.any([failed[name] for name in names], axis=0)
        any_lost = np.any([lost[name] for name in names], axis=0)
        assert system.failures == any_failed.sum()
        assert system.impossible == (any_lost & ~any_failed).sum()

    for name in failed:
        check(reference.components[name].system, [name])
    check(reference.unions["west"], ["west 1", "west 2"])
    check(reference.unions["east"], ["east 1"])
    check(reference.unions["whole"], list(failed))


def test_the_first_blocks_alone_make_the_detail(reference):
    tally = simulate(
        rich(), seed=11, blocks=BLOCKS, purpose="figures", edges=EDGES, detail_blocks=2, workers=2
    )
    short = simulate(rich(), seed=11, blocks=2, purpose="figures", edges=EDGES)
    for name, one in tally.components.items():
        assert one.detail_rows == 2 * 8192
        np.testing.assert_array_equal(one.failures, reference.components[name].failures)
        for part in (
            "ratio_counts",
            "margin_counts",
            "margin_mean",
            "margin_sd",
            "margin_low",
            "margin_high",
        ):
            assert bits(getattr(one, part)) == bits(getattr(short.components[name], part))
    bare = simulate(rich(), seed=11, blocks=2, purpose="figures", detail_blocks=0).components["west 1"]
    assert bare.ratio_counts is None
    assert np.isnan(bare.margin_mean).all()
    assert np.isnan(bare.ratio_quantiles([0.5])).all()


def test_progress_is_called_in_order_from_this_thread():
    calls = []

    def progress(done, total):
        assert threading.current_thread() is threading.main_thread()
        calls.append((done, total))

    simulate(single(beyond(1.0)), seed=1, blocks=7, purpose="a", chunk_blocks=3, workers=2, progress=progress)
    assert calls == [(3, 7), (6, 7), (7, 7)]


# Two workers may or may not hold their temporaries at the same moment.
@pytest.mark.parametrize(("workers", "allowed"), [(1, 1.1), (2, 2.5)])
def test_memory_is_flat_in_the_number_of_rows(workers, allowed):
    def peak(blocks):
        tracemalloc.start()
        try:
            simulate(rich(), seed=1, blocks=blocks, purpose="a", edges=EDGES, workers=workers)
            return tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()

    peak(2)  # what is made once and kept
    few, many = peak(8), peak(64)
    print(f"peak {few / 1e6:.2f} MB for 8 blocks, {many / 1e6:.2f} MB for 64")
    assert many < allowed * few


@pytest.mark.parametrize("workers", [1, 2])
def test_an_error_of_a_component_comes_out_as_it_is(workers):
    def respond(_x, _which):
        raise ArithmeticError("the mechanism broke")

    with pytest.raises(ArithmeticError, match="the mechanism broke"):
        simulate(single(respond), seed=1, blocks=20, purpose="a", workers=workers)


@pytest.mark.parametrize("workers", [1, 2])
def test_floating_point_settings_reach_the_workers(workers):
    def respond(x, _which):
        return Response(margin=1.0 / np.maximum(x, 0.0))

    with np.errstate(divide="ignore"):
        one = simulate(single(respond), seed=1, blocks=4, purpose="a", workers=workers).components["one"]
    assert np.isfinite(one.margin_mean[0])  # of the finite margins
    assert one.failures[0] == 0


def test_a_column_that_two_components_read_cannot_be_spoilt_by_one():
    def spoil(x, _which):
        x[:] = 0.0
        return Response(margin=np.ones((len(x), 1)))

    problem = Problem(
        Joint([STANDARD]),
        (component("first", spoil, columns=(0,)), component("second", beyond(1.0), columns=(0,))),
    )
    clean = Problem(Joint([STANDARD]), (component("second", beyond(1.0), columns=(0,)),))
    spoilt = simulate(problem, seed=1, blocks=1, purpose="a").components["second"]
    assert bits(spoilt) == bits(simulate(clean, seed=1, blocks=1, purpose="a").components["second"])


def test_a_column_that_several_components_read_is_transformed_once():
    calls = []

    class Counting:
        def from_normal(self, z, out=None):
            calls.append(len(z))
            return STANDARD.from_normal(z, out)

    parts = tuple(component(name, beyond(1.0), columns=(0,)) for name in ("first", "second", "third"))
    tally = simulate(Problem(Joint([Counting(), STANDARD]), parts), seed=1, blocks=3, purpose="a")
    assert calls == [8192] * 3
    assert len({int(one.failures[0]) for one in tally.components.values()}) == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"blocks": 0}, "blocks is 1 or more"),
        ({"chunk_blocks": 0}, "chunk_blocks is 1 or more"),
        ({"workers": 0}, "workers is 1 or more"),
        ({"detail_blocks": -1}, "detail_blocks is 0 or more"),
        ({"checkpoints": (2, 2)}, "checkpoints increase"),
        ({"checkpoints": (0, 2)}, "checkpoints increase"),
        ({"checkpoints": (1, 5)}, "from 1 to 4 blocks"),
        ({"edges": {"two": [[0.0, 1.0]]}}, "'two', which is no component"),
        ({"edges": {"one": [0.0, 1.0]}}, r"edges of \(1, bins \+ 1\)"),
        ({"edges": {"one": [[1.0, 0.0]]}}, "increasing"),
        ({"edges": {"one": [[0.0, np.inf]]}}, "finite"),
    ],
)
def test_refusals(arguments, words):
    with pytest.raises(ValueError, match=words):
        simulate(single(beyond(1.0)), **{"seed": 1, "blocks": 4, "purpose": "a", **arguments})
