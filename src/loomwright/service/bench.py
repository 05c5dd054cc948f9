"""The bench's use cases: check a circuit, what to expect, faults, suspects, why an output is off.

Each takes file paths and plain names, as a technician gives them, and returns a frozen record.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from loomwright.errors import (
    FileProblemsError,
    Problem,
    SolveError,
    UnknownNameError,
    UsageError,
    nearest,
)
from loomwright.service.behaviour import behaviour_of, sequence_notes
from loomwright.service.text_files import unreadable
from loomwright.units import format_quantity

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loomwright.circuit import CircuitPlant, WhyOff
    from loomwright.circuit.model import Circuit, Fault, Mark, StateResult
    from loomwright.circuit.readings import Reading
    from loomwright.circuit.sequences import SequenceResult
    from loomwright.diagnosis import LedTo
    from loomwright.diagnosis.records import Clue, Diagnosis, Evidence
    from loomwright.service.behaviour import Behaviour
    from loomwright.service.learning import LearnedFrom

__all__ = [
    "Assumption",
    "CheckReport",
    "Expectation",
    "SuspectsAnswer",
    "check_circuit",
    "draw",
    "evidence_from",
    "expect",
    "expect_sequence",
    "list_faults",
    "read_file_of",
    "read_known",
    "schema",
    "suspects",
    "why_output_off",
]

_UNITS = {"ohm": "ohm", "v": "V", "a": "A", "w": "W", "m": "m", "mm2": "mm2", "min": "min",
          "c": "degC", "hz": "Hz", "kgm2": "kg m2"}
_Result = TypeVar("_Result")


@dataclass(frozen=True, slots=True)
class Assumption:
    """A value the file did not give and a default stands for."""

    element: str
    what: str
    text: str


@dataclass(frozen=True, slots=True)
class CheckReport:
    """What a circuit file holds, what was assumed, and what deserves a look."""

    circuit: Circuit
    assumed: tuple[Assumption, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Expectation:
    """Solved states. `unmet` says, by state, which `should` lines do not hold.

    `behaviour` is what a state does beyond one resting point: history, chatter, what opens.
    """

    circuit: Circuit
    states: Mapping[str, StateResult]
    unmet: Mapping[str, tuple[str, ...]]
    behaviour: Mapping[str, Behaviour]

    def notes(self, state: str) -> tuple[str, ...]:
        """Return everything to be told of a state beyond its numbers."""
        return (*self.states[state].notes, *self.behaviour[state].notes, *self.unmet[state])

    @property
    def finding(self) -> bool:
        """Whether a circuit without faults does not do what it should."""
        return any(self.unmet.values()) and not self.circuit.faults


@dataclass(frozen=True, slots=True)
class SuspectsAnswer:
    """The readings taken and the clues beside them, and what they say."""

    circuit: Circuit
    evidence: tuple[Evidence, ...]
    diagnosis: Diagnosis
    clues: tuple[Clue, ...] = ()
    led_to: tuple[LedTo, ...] = ()  # what leading suspects blew, each in one sentence


def check_circuit(path: str) -> CheckReport:
    """Return what a circuit file holds; every state is also solved, so that a dead short shows.

    Raises
        UsageError: the file is missing, or has problems (all of them together)
        SolveError: a state has no trustworthy solution
    """
    expected = expect(path)
    circuit = expected.circuit
    notes = [f"{wire.id} ends at an unknown place; what lies behind it is not judged."
             for wire in circuit.wires.values() if wire.end is None]
    notes += _unwired(circuit)
    for state in expected.states:
        told = (*expected.behaviour[state].notes, *expected.unmet[state])
        notes += [f"{state}: {text}" for text in told]
    notes += sequence_notes(circuit)
    return CheckReport(circuit, tuple(_assumptions(circuit)), tuple(notes))


def expect(path: str, state: str | None = None, fault_ids: Sequence[str] = ()) -> Expectation:
    """Return what every point, wire and part should read.

    Parameters
        path: the circuit file
        state: one state, or None for all
        fault_ids: faults to insert, such as 'open:W7' or 'high-resistance:W7:0.8' (ohm)
    Raises
        UsageError: the file, the state or a fault id is not good
        SolveError: there is no trustworthy solution
    """
    circuit = _with_faults(read_known(path), fault_ids)
    names = list(circuit.states) if state is None else [_known_state(circuit, state)]
    states = {name: _solve(circuit, name) for name in names}
    unmet = {name: tuple(_unmet(circuit, result)) for name, result in states.items()}
    return Expectation(circuit, states, unmet,
                       {name: behaviour_of(circuit, result) for name, result in states.items()})


def expect_sequence(path: str, name: str, fault_ids: Sequence[str] = ()) -> SequenceResult:
    """Return what every part does in a sequence of the circuit file, from event to event.

    Raises
        UsageError: the file, the sequence or a fault id is not good
        SolveError: a moment has no trustworthy solution
    """
    from loomwright.circuit.sequences import run_sequence

    return run_sequence(_with_faults(read_known(path), fault_ids), name)


def list_faults(path: str) -> tuple[Fault, ...]:
    """Return every single fault of a circuit, with prior probability and repair."""
    from loomwright.circuit import faults_of

    return tuple(faults_of(read_known(path)))


def why_output_off(path: str, state: str, output: str, fault_ids: Sequence[str] = ()) -> WhyOff:
    """Return what keeps a controller's output off in a state, and what the faults blew before."""
    from loomwright.circuit import why_off
    from loomwright.service.why_view import with_consequences

    circuit = _with_faults(read_known(path), fault_ids)
    return with_consequences(circuit, why_off(circuit, _known_state(circuit, state), output))


def draw(path: str, state: str | None = None, fault_ids: Sequence[str] = ()) -> str:
    """Return the circuit as SVG text, with the values of a state where one is given."""
    from loomwright.circuit.drawing import DrawingOptions, draw_circuit

    circuit = _with_faults(read_known(path), fault_ids)
    result = _solve(circuit, _known_state(circuit, state)) if state is not None else None
    # A file of its own has no page around it, so the style goes into the drawing.
    suspect = frozenset(fault.element for fault in circuit.faults)
    options = DrawingOptions(title=circuit.title, suspects=suspect, standalone=True)
    return draw_circuit(circuit, result, options)


def schema() -> dict[str, Any]:
    """Return the JSON Schema of a circuit file."""
    from loomwright.circuit import circuit_schema

    return circuit_schema()


def suspects(path: str, readings_path: str, next_count: int = 5,
             learned: LearnedFrom | None = None, cache: Path | None = None,
             large: bool = False) -> SuspectsAnswer:
    """Return which faults explain the readings and what else was told, and what to measure next.

    Parameters
        path: the circuit file
        readings_path: the readings file, with codes, swaps and history where those are known
        next_count: how many next checks to give
        learned: counts of closed jobs that move the priors
        cache: the folder of predictions kept between two starts; None keeps none
        large: search a circuit of any size, as long as it takes
    Raises
        UsageError: a file is missing or has problems (all of them together), or the circuit is
            too large to be searched
    """
    from loomwright.circuit.readings import read_readings
    from loomwright.circuit.remarks import read_remarks
    from loomwright.diagnosis import build_table, diagnose, led_to
    from loomwright.service.circuit_size import check_unless_large
    from loomwright.service.clues import clues_of
    from loomwright.service.instrument import as_shown, with_meter
    from loomwright.service.table_cache import keep, plant_of

    circuit = read_known(path)
    check_unless_large(circuit, large)
    plant = plant_of(circuit, cache)
    readings = read_file_of(readings_path, "readings", lambda name: read_readings(name, circuit))
    told = read_file_of(readings_path, "readings", lambda name: read_remarks(name, circuit))
    evidence = as_shown(evidence_from(plant, readings, readings_path),
                        [one.value for one in readings])
    evidence = with_meter(evidence, told.meter)
    table = build_table(plant)
    keep(plant, cache)
    if learned is not None:
        table = learned.table(table, circuit)
    clues = clues_of(table, plant, told)
    done = tuple(dict.fromkeys(name for item in evidence for name in item.after))
    found = diagnose(table, evidence, rejected=done, next_count=next_count,
                     allow_second_part=told.agreed, clues=clues)
    return SuspectsAnswer(circuit, evidence, found, clues, led_to(plant, found.suspects))


def evidence_from(plant: CircuitPlant, readings: Sequence[Reading], file: str
                  ) -> tuple[Evidence, ...]:
    """Return the readings as evidence; those that cannot be taken so are told together."""
    from loomwright.diagnosis import Evidence

    found, problems = [], []
    repairs = plant.repairs() if any(one.after for one in readings) else {}
    for one in readings:
        try:
            check = plant.check_for(one.state, one.quantity, one.at, one.to, one.instrument)
            for name in one.after:
                if name not in repairs:
                    raise UnknownNameError("repair", name, repairs)
            found.append(Evidence(check, plant.value_of(check, one.value), one.after))
        except UsageError as error:
            problems.append(Problem(one.mark.line, one.mark.column, error.message,
                                    error.next_step))
    if problems:
        raise FileProblemsError(file, problems)
    return tuple(found)


def read_known(path: str) -> Circuit:
    """Read a circuit file; a path that is no file is told with what lies beside it."""
    from loomwright.circuit import read_circuit

    return read_file_of(path, "circuit", read_circuit)


def read_file_of(path: str, what: str, read: Callable[[Path], _Result]) -> _Result:
    """Read a file with `read`, or say why it cannot be read."""
    if not path.strip():
        raise UsageError(f"No {what} file is named.", next_step="Name one.")
    file = Path(path)
    if not file.exists():
        beside = _yaml_files(file.parent)
        close = nearest(file.name, beside)
        step = f"Did you mean '{file.parent / close}'?" if close else "Check the path."
        raise UsageError(f"There is no {what} file '{path}'.", next_step=step)
    if file.is_dir():
        inside = _yaml_files(file)
        step = f"Name one file in it: {', '.join(inside[:5])}." if inside else "Name a file."
        raise UsageError(f"'{path}' is a folder, not a {what} file.", next_step=step)
    try:
        return read(file)
    except (OSError, UnicodeDecodeError) as error:
        raise unreadable(what, path, error, "Check the file and its permissions.") from error


def _yaml_files(folder: Path) -> list[str]:
    """Return the names of the YAML files in a folder, none where it cannot be listed."""
    try:
        return sorted(one.name for one in folder.iterdir() if one.suffix in {".yaml", ".yml"})
    except OSError:
        return []


def _solve(circuit: Circuit, state: str) -> StateResult:
    """Solve a state; a reason that names a part or wire is told at its place in the file."""
    from loomwright.circuit import solve

    try:
        return solve(circuit, state)
    except SolveError as error:
        marks = [_mark_of(circuit, reason) for reason in error.reasons]
        if None in marks:
            raise
        raise FileProblemsError(circuit.file, [
            Problem(mark.line, mark.column, f"State '{state}': {reason}.", error.next_step)
            for mark, reason in zip(marks, error.reasons, strict=True) if mark is not None
        ]) from error


def _mark_of(circuit: Circuit, reason: str) -> Mark | None:
    """Return where the first part or wire named in a reason stands in the file."""
    for word in re.findall(r"[^\s,;:()']+", reason):
        found = circuit.wires.get(word) or circuit.parts.get(word.split(".", 1)[0])
        if found is not None and found.mark.line:
            return found.mark
    return None


def _known_state(circuit: Circuit, state: str) -> str:
    if state not in circuit.states:
        raise UnknownNameError("state", state, circuit.states)
    return state


def _with_faults(circuit: Circuit, fault_ids: Sequence[str]) -> Circuit:
    from loomwright.circuit import parse_fault

    return circuit.with_faults(parse_fault(circuit, one) for one in fault_ids)


def _unwired(circuit: Circuit) -> Iterable[str]:
    """Give each part that no wire reaches, at its place in the file.

    An earth point needs none: it is a spot of the body, where a meter lead may go.
    """
    reached = {end.part for wire in circuit.wires.values()
               for end in (wire.start, wire.end) if end is not None}
    for part in circuit.parts.values():
        if part.id not in reached and part.kind != "earth":
            yield Problem(part.mark.line, part.mark.column,
                          f"No wire goes to {part.kind} {part.id}: nothing can be said of it.",
                          "Add its wires, or leave it out.").text(circuit.file)


def _unmet(circuit: Circuit, result: StateResult) -> Iterable[str]:
    """Give each `should` line that a solved state does not meet."""
    for element, wanted in circuit.should.get(result.state, {}).items():
        reading = result.parts.get(element)
        doing = reading.doing or "off" if reading else "unknown"
        if doing != wanted:
            yield f"{element} should be {wanted} but is {doing}."


def _assumptions(circuit: Circuit) -> Iterable[Assumption]:
    """Give every default that stands for a value the file did not state."""
    for place in circuit.places.values():
        if place.assumed:
            named = f"place {place.id}" if place.id else "parts without a place"
            yield _assumption(named, "reach_min", place.reach_min)
    for part in circuit.parts.values():
        for key in sorted(part.assumed):
            yield _assumption(part.id, key, part.params.get(key))
    for wire in circuit.wires.values():
        for key in sorted(wire.assumed):
            yield _assumption(wire.id, key, getattr(wire, key, None))


def _assumption(element: str, key: str, value: object) -> Assumption:
    """Return an assumption in words: `length_m` 2.0 reads 'length 2 m'."""
    name, _, suffix = key.rpartition("_")
    unit = _UNITS.get(suffix, "")
    what = (name if unit and name else key).replace("_", " ")
    if isinstance(value, bool) or not isinstance(value, int | float):
        shown = "unknown" if value is None or value == "" else str(value)
    else:
        shown = format_quantity(value, unit) if unit else f"{value:g}"
    return Assumption(element, what, f"{element} {what} {shown}")
