"""Work shared out to several processes, what they give taken in order.

The models are many short calls of NumPy, between which Python holds its lock: threads take turns, and two take longer
than one. Processes that are forked inherit the problem as it stands, so that nothing but results has to travel. Where a
system cannot fork safely one process does it all.
"""

from __future__ import annotations

import multiprocessing
import signal
import sys
from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any, TypeVar

T = TypeVar("T")

# macOS can fork, but its system libraries do not promise to work afterwards.
CAN_FORK = sys.platform.startswith("linux") and "fork" in multiprocessing.get_all_start_methods()


def dealt(hands: Sequence[Callable[[], Iterable[T]]]) -> Generator[T, None, None]:
    """Yield what the hands give in turns: the first of each, then the second of each that has one.

    Parameters
    ----------
    hands : sequence of callable
        Each returns what it gives, worked out as it is taken. With two or more each runs in a process of its own,
        some results ahead of what was taken; what it changes besides does not come back.

    Raises
    ------
    Exception
        What a hand raised, in its turn; the others are stopped.
    RuntimeError
        If a process ended without a word: killed, or out of memory.
    """
    if len(hands) == 1 or not CAN_FORK:
        yield from _in_turns([iter(hand()) for hand in hands])
        return
    crew: list[tuple[BaseProcess, Connection]] = []
    try:
        for hand in hands:
            crew.append(_started(hand))
        yield from _in_turns([_received(conn) for _, conn in crew])
    finally:
        for process, conn in crew:
            conn.close()
            process.terminate()
            process.join()


def _in_turns(givers: Sequence[Iterator[T]]) -> Iterator[T]:
    left = list(givers)
    while left:
        still = []
        for giver in left:
            for item in giver:
                yield item
                still.append(giver)
                break
        left = still


def _started(hand: Callable[[], Iterable[Any]]) -> tuple[BaseProcess, Connection]:
    fork = multiprocessing.get_context("fork")
    ours, theirs = fork.Pipe(duplex=False)
    process = fork.Process(target=_give, args=(hand, ours, theirs), daemon=True)
    process.start()
    theirs.close()  # so that its end is seen when the process is no more
    return process, ours


def _give(hand: Callable[[], Iterable[Any]], ours: Connection, theirs: Connection) -> None:
    """Send each result, then the end or the error; an interrupt is for the parent to act on."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    ours.close()
    try:
        for item in hand():
            theirs.send((item, None))
        theirs.send((None, StopIteration()))
    except BrokenPipeError:
        pass  # nobody wants more
    except Exception as error:
        theirs.send((None, error))


def _received(conn: Connection) -> Iterator[Any]:
    while True:
        try:
            item, error = conn.recv()
        except EOFError:
            raise RuntimeError("a worker process ended without a word: killed, or out of memory") from None
        if isinstance(error, StopIteration):
            return
        if error is not None:
            raise error
        yield item
