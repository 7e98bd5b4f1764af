"""Work shared out to processes: the order, the end, errors, a death, and what is left running."""

from __future__ import annotations

import multiprocessing
import os
import signal
import time
from contextlib import closing
from functools import partial

import pytest

from riskcut.reliability import crew
from riskcut.reliability.crew import dealt


def give(*items):
    yield from items


def test_results_come_in_turns_however_many_each_gives():
    assert list(dealt([partial(give, 1, 3, 5), partial(give, 2), partial(give), partial(give, 4)])) == [
        1,
        2,
        4,
        3,
        5,
    ]
    assert list(dealt([partial(give, 1, 2)])) == [1, 2]


def test_where_a_system_cannot_fork_the_order_is_the_same(monkeypatch):
    monkeypatch.setattr(crew, "CAN_FORK", False)
    assert list(dealt([partial(give, 1, 3, 5), partial(give, 2, 4)])) == [1, 2, 3, 4, 5]
    pids = set(dealt([lambda: [os.getpid()]] * 3))
    assert pids == {os.getpid()}


def test_each_hand_has_a_process_of_its_own():
    pids = list(dealt([lambda: [os.getpid()]] * 3))
    assert len(set(pids)) == (3 if crew.CAN_FORK else 1)
    assert (os.getpid() in pids) != crew.CAN_FORK


def test_an_error_comes_out_in_its_turn_and_nothing_is_left_running():
    def fail():
        yield 2
        raise ZeroDivisionError("by nothing")

    given = dealt([partial(give, 1, 3, 5), fail])
    assert [next(given) for _ in range(3)] == [1, 2, 3]
    with pytest.raises(ZeroDivisionError, match="by nothing"):
        next(given)
    assert multiprocessing.active_children() == []


def test_whoever_wants_no_more_stops_the_others():
    def without_end():
        while True:
            yield bytes(1 << 20)

    with closing(dealt([without_end, without_end])) as given:
        assert len(next(given)) == 1 << 20
    assert multiprocessing.active_children() == []


def test_a_process_that_is_killed_is_told():
    def die():
        if multiprocessing.parent_process() is None:
            raise RuntimeError("a worker process ended: there was none")
        os.kill(os.getpid(), signal.SIGKILL)
        yield

    with pytest.raises(RuntimeError, match="a worker process ended"):
        list(dealt([partial(give, 1), die]))
    assert multiprocessing.active_children() == []


def test_an_interrupt_is_left_to_the_parent():
    def interrupted():
        if multiprocessing.parent_process() is not None:
            os.kill(os.getpid(), signal.SIGINT)
        time.sleep(0.01)
        yield 1

    assert list(dealt([interrupted, interrupted])) == [1, 1]
