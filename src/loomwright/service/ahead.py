"""What a job's page will show next, worked out before it is asked for.

A page after a reading takes tens of milliseconds of thinking. While a page is looked at, every
answer to what it asks to look at (on, off) is thought through. All of it lands in what the bench
keeps anyway, by everything it depends on: nothing is stored here, and an answer is the same with or
without it. (Thinking beside the writing to disk was tried: it gained nothing.)
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

from loomwright.errors import LoomwrightError
from loomwright.jobs.history import after
from loomwright.jobs.records import Event
from loomwright.service.jobs import Workshop, reading_body
from loomwright.service.records import Look, ReadingForm

if TYPE_CHECKING:
    from loomwright.service.records import Entry

__all__ = ["Ahead"]

QUIET_S = 1.0  # nobody has read a page and taken its reading sooner; until then the browser draws
HARD_S = 0.3  # of work: what explains nothing is long thought about, and takes memory
_NOW = "2000-01-01T00:00:00.000+00:00"  # when a reading was taken does not matter to what it says


class Ahead:
    """One thread that thinks ahead for all jobs; the newest wish counts."""

    def __init__(self, workshop: Workshop) -> None:
        """Keep the workshop; nothing is thought before `start`."""
        self._workshop = workshop
        self._worker: ThreadPoolExecutor | None = None
        self._turn = 0
        self._moved = threading.Condition()

    def start(self) -> None:
        """Begin to follow wishes."""
        self._worker = ThreadPoolExecutor(1, thread_name_prefix="think ahead")

    def close(self) -> None:
        """Stop thinking; what is being thought through is thought to its end."""
        worker, self._worker = self._worker, None
        self._next_turn()
        if worker is not None:
            worker.shutdown(wait=True, cancel_futures=True)

    def looking(self, job_id: int, entry: Entry, look: Look) -> None:
        """Think through every answer to a page's check once it is quiet, where there are a few."""
        forms = [ReadingForm(entry.state, entry.quantity, entry.at, entry.to, level,
                             instrument=entry.instrument) for level in entry.levels]
        turn, worker = self._next_turn(), self._worker
        if forms and worker is not None:
            with contextlib.suppress(RuntimeError):  # closed this moment
                worker.submit(self._idle, turn, job_id, forms, Look(only=look.only))

    def _next_turn(self) -> int:
        with self._moved:
            self._turn += 1
            self._moved.notify_all()
            return self._turn

    def _idle(self, turn: int, job_id: int, forms: Sequence[ReadingForm], look: Look) -> None:
        with self._moved:
            if self._moved.wait_for(lambda: self._turn != turn, QUIET_S):
                return
        for form in forms:
            begun = time.thread_time()
            if self._turn == turn:
                self._think(job_id, form, look)
            if time.thread_time() - begun > HARD_S:
                return

    def _think(self, job_id: int, form: ReadingForm, look: Look) -> None:
        from loomwright.service.job_view import job_view

        try:
            job, history, bench = self._workshop.opened(job_id)
            body = reading_body(bench, form)
            event = Event(history.last + 1, "reading", _NOW, "", "", body)
            job_view(job, after(history, event), bench, look)
        except LoomwrightError:
            return  # told when it is typed
