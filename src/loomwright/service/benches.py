"""A circuit made ready for diagnosis, built once per circuit text and kept.

Building takes seconds (every fault in every state is solved); answering from it takes
milliseconds. So a bench is built in the background when the program or a job is opened.
"""

from __future__ import annotations

import functools
import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from loomwright.errors import LoomwrightError

if TYPE_CHECKING:
    from loomwright.circuit import CircuitPlant
    from loomwright.circuit.model import Circuit, StateResult
    from loomwright.diagnosis import Table
    from loomwright.diagnosis.records import Clue, Diagnosis, Evidence
    from loomwright.plant import Check, Prediction, Repair
    from loomwright.service.learning import LearnedFrom

__all__ = ["Bench", "Benches", "Marks", "Question", "drawing_css"]

KEPT = 64  # states, drawings and answers of one circuit
KEPT_BENCHES = 32
MOST_PAIRS = 1_500_000  # of a fault and a check in all tables kept; measured 0.7 kB each
SIGMAS = 3.0
_RARE = 0.025  # share of battery charges on either side that are not "as it should be"


@dataclass(frozen=True, slots=True)
class Marks:
    """What a drawing stresses: the chosen points, those of the next check, suspect elements."""

    chosen: frozenset[str] = frozenset()
    next: frozenset[str] = frozenset()
    suspects: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Question:
    """What is known of a vehicle: readings, repairs that failed, clues, a word to go on."""

    evidence: tuple[Evidence, ...]
    rejected: tuple[str, ...] = ()
    clues: tuple[Clue, ...] = ()
    agreed: bool = False
    left_out: frozenset[str] = frozenset()  # checks that cannot be taken


class Bench:
    """One circuit with its plant and its table of predictions; nothing in it changes."""

    def __init__(self, circuit: Circuit, learned: LearnedFrom | None = None) -> None:
        self.circuit = circuit
        self.learned = learned
        self._lock = threading.RLock()
        self._drawings: dict[tuple[str, tuple[str, ...], Marks, bool, frozenset[str]], str] = {}
        self._states: dict[tuple[str, tuple[str, ...]], StateResult] = {}
        self._answers: dict[Question, Diagnosis] = {}

    @functools.cached_property
    def plant(self) -> CircuitPlant:
        """The circuit as the diagnosis engine sees it."""
        from loomwright.circuit import CircuitPlant

        return CircuitPlant(self.circuit)

    @functools.cached_property
    def table(self) -> Table:
        """The predictions of every fault for every check. UsageError where they are too many."""
        from loomwright.diagnosis import build_table
        from loomwright.service.circuit_size import check_size

        check_size(self.circuit)  # a store may hold one from before there was a limit
        table = build_table(self.plant)
        return table if self.learned is None else self.learned.table(table, self.circuit)

    @functools.cached_property
    def repairs(self) -> Mapping[str, Repair]:
        """Every repair class by its id."""
        return self.plant.repairs()

    @property
    def negative(self) -> str:
        """The point that all volts refer to."""
        for part in self.circuit.parts.values():
            if part.kind == "battery":
                return f"{part.id}.-"
        return ""

    @property
    def pairs(self) -> int:
        """How many predictions the table holds, 0 while it is not built."""
        table: Table | None = vars(self).get("table")
        return 0 if table is None else len(table.rows) * len(table.checks)

    def ready(self) -> Bench:
        """Return this bench once its table is built; one thread builds, others wait."""
        with self._lock:
            _ = self.table
        return self

    def foresee(self) -> None:
        """Find out what every fault opens for good, such as a fuse: pages say it of suspects."""
        with self._lock:
            self.plant.foresee(self.plant.faults())

    def faulty(self, faults: tuple[str, ...]) -> Circuit:
        """Return the circuit with some faults inserted."""
        from loomwright.circuit import parse_fault

        return self.circuit.with_faults(parse_fault(self.circuit, one) for one in faults)

    def solved(self, state: str, faults: tuple[str, ...] = ()) -> StateResult:
        """Return a state solved with some faults inserted."""
        from loomwright.circuit import solve

        key = (state, faults)
        with self._lock:
            if key not in self._states:
                _make_room(self._states)
                self._states[key] = solve(self.faulty(faults), state)
            return self._states[key]

    def drawing(self, state: str, faults: tuple[str, ...] = (), marks: Marks | None = None,
                standalone: bool = False, only: frozenset[str] = frozenset()) -> str:
        """Return the circuit as SVG with the values of a state, and what to stress in it.

        `only` are the elements to draw; empty means all.
        """
        from loomwright.circuit.drawing import DrawingOptions, draw_circuit

        marks = marks or Marks()
        key = (state, faults, marks, standalone, only)
        with self._lock:
            if key not in self._drawings:
                _make_room(self._drawings)
                options = DrawingOptions(
                    chosen_points=marks.chosen, next_points=marks.next, suspects=marks.suspects,
                    standalone=standalone, only_elements=only)
                self._drawings[key] = draw_circuit(
                    self.circuit, self.solved(state, faults), options)
            return self._drawings[key]

    def diagnosed(self, asked: Question, diagnose: Callable[..., Diagnosis]) -> Diagnosis:
        """Return the diagnosis of what is known; the last few answers are kept."""
        with self._lock:
            if asked not in self._answers:
                from loomwright.diagnosis import without_checks

                _make_room(self._answers)
                table = without_checks(self.table, asked.left_out)
                self._answers[asked] = diagnose(
                    table, asked.evidence, rejected=asked.rejected, clues=asked.clues,
                    allow_second_part=asked.agreed)
            return self._answers[asked]

    def healthy(self, check: Check) -> float | str | None:
        """Return what a healthy circuit shows at a check, or None where it shows nothing sure."""
        import numpy as np

        found = self._predicted(check)
        middle = int(np.argmax(found.weights))
        if check.levels:
            return check.levels[int(np.argmax(found.levels[0][middle, 0]))]
        value = float(found.mean[middle, 0, 0])
        return None if np.isnan(value) else value

    def is_healthy(self, check: Check, value: float | str) -> bool:
        """Return whether a healthy circuit would show this value.

        Within three standard deviations of the circuit's spread and the meter's error, at a
        battery charge within the middle 95 % of what is usual; a shown level must be the
        likeliest one. A nearly flat battery would else pass for the amps of a poor joint.
        """
        import numpy as np

        if isinstance(value, str):
            return value == self.healthy(check)
        found = self._predicted(check)
        below = np.cumsum(found.weights)  # the grid goes from flat to full
        usual = (below > _RARE) & (below - found.weights < below[-1] - _RARE)
        mean, spread = found.mean[usual, 0, 0], found.spread[usual, 0, 0]
        margin = SIGMAS * np.hypot(spread, check.accuracy * np.abs(mean)) + check.resolution
        return bool(np.any(np.abs(mean - value) <= margin))

    def _predicted(self, check: Check) -> Prediction:
        from loomwright.plant import NO_FAULT

        with self._lock:
            return self.plant.predict([NO_FAULT], [check])


def _make_room(kept: dict[Any, Any]) -> None:
    """Let the oldest go when there are too many."""
    if len(kept) >= KEPT:
        kept.pop(next(iter(kept)))


class _Shelf:
    """The benches used last, of any store, as far as memory goes: a year's jobs would fill it."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, LearnedFrom | None], Bench] = {}
        self._lock = threading.Lock()

    def get(self, text: str, learned: LearnedFrom | None) -> Bench:
        """Return the bench of a circuit's text and a depot's counts, the newest from now on."""
        from loomwright.circuit import read_circuit_text

        with self._lock:
            bench = self._kept.pop((text, learned), None)
            if bench is None:
                bench = Bench(read_circuit_text(text), learned)
            self._kept[text, learned] = bench
            while len(self._kept) > 1 and (
                    len(self._kept) > KEPT_BENCHES
                    or sum(one.pairs for one in self._kept.values()) > MOST_PAIRS):
                self._kept.pop(next(iter(self._kept)))
            return bench


_shelf = _Shelf()


class Benches:
    """Benches by the content hash of their circuit's text."""

    def __init__(self, text_of: Callable[[str], str], learned: LearnedFrom | None = None) -> None:
        """Keep the function that gives a circuit's text by its hash, and the depot's counts."""
        self._text_of = text_of
        self._learned = learned
        self._texts: dict[str, str] = {}
        self._lock = threading.Lock()

    def get(self, digest: str) -> Bench:
        """Return the bench of a circuit; its table is built when first asked for."""
        with self._lock:
            if digest not in self._texts:
                _make_room(self._texts)
                self._texts[digest] = self._text_of(digest)
            return _shelf.get(self._texts[digest], self._learned)

    def warm(self, digests: Iterable[str]) -> threading.Thread:
        """Build benches in the background; a circuit that cannot be built tells when opened."""
        wanted = list(dict.fromkeys(digests))

        def build() -> None:
            for digest in wanted:
                try:
                    self.get(digest).ready().foresee()
                except LoomwrightError:
                    continue

        thread = threading.Thread(target=build, name="build benches", daemon=True)
        thread.start()
        return thread


def drawing_css() -> str:
    """Return the style sheet that drawings in a page need."""
    from loomwright.circuit.drawing import DRAWING_CSS

    return DRAWING_CSS
