"""Use case: count the closed jobs of a workshop, merge counts, show what they do to the priors."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from loomwright.errors import LoomwrightError, UsageError
from loomwright.service.text_files import unreadable

if TYPE_CHECKING:
    from loomwright.circuit.model import Circuit, Fault
    from loomwright.diagnosis.learning import Counts, FaultSort, Lesson, Shift
    from loomwright.diagnosis.records import Diagnosis
    from loomwright.diagnosis.table import Table
    from loomwright.jobs.records import History, Job
    from loomwright.service.jobs import Workshop

__all__ = [
    "LEARNED_FILE",
    "LearnQuestion",
    "Learned",
    "LearnedFrom",
    "class_of",
    "learn",
    "read_counts",
    "save_counts",
    "sorts_of",
]


@dataclass(frozen=True, slots=True)
class LearnQuestion:
    """Counts files to merge, a data folder of jobs to count, a circuit to apply the counts to."""

    files: tuple[str, ...] = ()
    data: str = ""
    circuit: str = ""
    vehicle_class: str = ""
    strength: float = 50.0


LEARNED_FILE = "learned.json"  # in a data folder: the counts that its jobs' priors follow


@dataclass(frozen=True, slots=True)
class LearnedFrom:
    """Counts that move the priors of a circuit, and how many jobs its own priors are worth."""

    counts: Counts
    strength: float = 50.0
    vehicle_class: str = ""

    @staticmethod
    def at(path: Path, strength: float = 50.0, vehicle_class: str = "") -> LearnedFrom:
        """Return the counts of a file, or of the learned file in a data folder.

        Raises UsageError where there is none or it has problems.
        """
        file = path / LEARNED_FILE if path.is_dir() else path
        return LearnedFrom(read_counts(file), strength, vehicle_class)

    @staticmethod
    def of_folder(folder: Path) -> LearnedFrom | None:
        """Return what a data folder has learnt, None where it has no learned file."""
        return LearnedFrom.at(folder) if (folder / LEARNED_FILE).is_file() else None

    def table(self, table: Table, circuit: Circuit) -> Table:
        """Return a circuit's table with the priors that the counts lead to."""
        from loomwright.diagnosis.learning import learned_rows
        from loomwright.diagnosis.priors import with_priors

        kind = self.vehicle_class or class_of(circuit.system_v)
        rows = table.rows[1:-1]
        return with_priors(table, learned_rows(rows, sorts_of(circuit), self.counts, kind,
                                               self.strength))

    @property
    def words(self) -> str:
        """Return how strong the counts are, in words."""
        return (f"Priors follow {self.counts.total} closed jobs; the circuit's own are worth "
                f"{self.strength:g}.")


@dataclass(frozen=True, slots=True)
class Learned:
    """The counts together, jobs of the folder counted and left out, and shares that moved."""

    counts: Counts
    jobs_counted: int
    jobs_left_out: int
    strength: float
    vehicle_class: str
    shifts: tuple[Shift, ...]


def learn(question: LearnQuestion) -> Learned:
    """Return merged counts, those of a data folder included, and their effect on a circuit.

    Raises UsageError: a file is missing or has problems; nothing to count; a wrong strength.
    """
    from loomwright.diagnosis.learning import count_jobs, merge, shifts

    if not question.files and not question.data:
        raise UsageError("There is nothing to learn from.",
                         next_step="Name counts files, or a data folder with --data.")
    lessons, left_out = _lessons_of(question.data) if question.data else ((), 0)
    counts = merge(*(read_counts(Path(name)) for name in question.files), count_jobs(lessons))
    moved: tuple[Shift, ...] = ()
    vehicle_class = question.vehicle_class
    if question.circuit:
        from loomwright.circuit import CircuitPlant
        from loomwright.service import bench

        circuit = bench.check_circuit(question.circuit).circuit
        vehicle_class = vehicle_class or class_of(circuit.system_v)
        moved = shifts(CircuitPlant(circuit).faults(), sorts_of(circuit), counts, vehicle_class,
                       question.strength)
    return Learned(counts, len(lessons), left_out, question.strength, vehicle_class, moved)


def read_counts(path: Path) -> Counts:
    """Return the counts of a file. Raises UsageError where it cannot be read or has problems."""
    from loomwright.diagnosis.learning import read_counts_text

    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise unreadable("counts", path, error) from error
    return read_counts_text(text, str(path))


def save_counts(counts: Counts, path: Path, *, force: bool = False) -> None:
    """Write counts to a file; see `write_text`. Raises UsageError where that fails."""
    from loomwright.diagnosis.learning import write_counts
    from loomwright.service.text_files import write_text

    write_text(path, write_counts(counts), force=force)


def class_of(system_v: float) -> str:
    """Return the class of a vehicle of which only the system's volts are known: '24 V'."""
    return f"{system_v:.0f} V"


def sorts_of(circuit: Circuit) -> dict[str, FaultSort]:
    """Return the sort of every fault of a circuit by fault id."""
    from loomwright.circuit import faults_of

    return {fault.id: _sort_of(circuit, fault) for fault in faults_of(circuit)}


def _sort_of(circuit: Circuit, fault: Fault) -> FaultSort:
    """Return the sort of a fault; a wire is where it starts."""
    from loomwright.diagnosis.learning import FaultSort, word

    wire = circuit.wires.get(fault.element)
    if wire is not None:
        return FaultSort("wire", fault.kind, word(circuit.place_of(wire.start.point)))
    part = circuit.parts[fault.element.split(".", 1)[0]]
    return FaultSort(part.kind, fault.kind, word(part.place))


# --- the jobs of a data folder -------------------------------------------------------------------


def _lessons_of(folder: str) -> tuple[Sequence[Lesson], int]:
    """Return what the closed jobs of a folder teach, and how many taught nothing."""
    from loomwright.service.jobs import Workshop

    path = Path(folder)
    if not path.is_dir():
        raise UsageError(f"There is no data folder '{folder}'.", next_step="Check the path.")
    workshop = Workshop(path)
    try:
        found = list(_each(workshop))
    finally:
        workshop.close()
    lessons = [one for one in found if one is not None]
    return lessons, len(found) - len(lessons)


def _each(workshop: Workshop) -> Iterator[Lesson | None]:
    """Give, for every finished job of a real vehicle, its lesson or None."""
    from loomwright.jobs.history import replay

    events = workshop.store.all_events()
    for job in workshop.store.jobs():
        history = replay(events.get(job.id, ()))
        if history.finish is not None and not job.demo:
            yield _lesson(workshop, job, history)


def _lesson(workshop: Workshop, job: Job, history: History) -> Lesson | None:
    """Return what one job teaches: the fault that led when its proved repair was done."""
    from loomwright.diagnosis.learning import Lesson
    from loomwright.service.reasoning import diagnosis_of, proof_of

    if not history.repairs or not history.proving or history.repairs[-1].failed:
        return None
    try:
        bench = workshop.benches.get(history.circuit or job.circuit)
        if not proof_of(bench, history).holds:
            return None
        fault = _led(diagnosis_of(bench, history), history.repairs[-1].repair)
        sort = sorts_of(bench.circuit).get(fault)
    except LoomwrightError:  # a circuit that is refused today teaches nothing
        return None
    return None if sort is None else Lesson(sort, class_of(bench.circuit.system_v))


def _led(found: Diagnosis, repair: str) -> str:
    """Return the likeliest fault that a repair mends ('' where none is left)."""
    return next((one.id for one in found.suspects if one.repair == repair), "")
