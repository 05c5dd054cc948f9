"""Threads that solve the pieces of a sweep, each with scratch of its own."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from queue import SimpleQueue
from typing import Generic, TypeVar

from loomwright.circuit.sweep.bases import live_of
from loomwright.circuit.sweep.devices import Live
from loomwright.circuit.sweep.rooms import Rooms
from loomwright.circuit.sweep.rounds import Outcome
from loomwright.circuit.sweep.shape import Shape

__all__ = ["Crew", "Task"]

Told = TypeVar("Told")
_LEAST = 100_000  # variants times rows that are worth handing to a thread


@dataclass(frozen=True, slots=True, eq=False)
class Task(Generic[Told]):
    """One piece to solve: the work, how much it is (variants times rows), what it is told by."""

    work: Callable[[Live], Outcome]
    size: int
    told: Told


class Crew:
    """As many threads as are asked for and the machine has processors for.

    Each solves whole pieces, so that none waits for another, while the caller reads the last one.
    """

    def __init__(self, shape: Shape, threads: int) -> None:
        count = max(1, min(threads, os.cpu_count() or 1))
        self.rooms = Rooms()
        self.live = [live_of(shape) for _ in range(count)]
        self._idle: SimpleQueue[Live] = SimpleQueue()
        for live in self.live:
            self._idle.put(live)
        self._pool: ThreadPoolExecutor | None = None

    def in_turn(self, tasks: Iterable[Task[Told]]) -> Iterator[tuple[Outcome, Told]]:
        """Yield what tasks come to, in their order; some more than are read are under way."""
        waiting: deque[tuple[Future[Outcome], Told]] = deque()
        try:
            for task in tasks:
                if len(self.live) == 1 or task.size < _LEAST:
                    yield from _read(waiting, 0)
                    yield task.work(self.live[0]), task.told
                    continue
                if self._pool is None:
                    self._pool = ThreadPoolExecutor(len(self.live))
                waiting.append((self._pool.submit(self._solve, task.work), task.told))
                yield from _read(waiting, len(self.live))
            yield from _read(waiting, 0)
        finally:
            for future, _ in waiting:  # whoever reads next needs the scratch
                future.cancel()
            wait([future for future, _ in waiting])

    def _solve(self, work: Callable[[Live], Outcome]) -> Outcome:
        live = self._idle.get()
        try:
            return work(live)
        finally:
            self._idle.put(live)


def _read(waiting: deque[tuple[Future[Outcome], Told]], most: int
          ) -> Iterator[tuple[Outcome, Told]]:
    """Yield the first ones until no more than so many wait."""
    while len(waiting) > most:
        future, told = waiting.popleft()
        yield future.result(), told
