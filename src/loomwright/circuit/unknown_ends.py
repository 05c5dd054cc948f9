"""Where loose wires may end: every line of the circuit tried as their destination, in one batch.

A circuit found on a vehicle is known in part. A wire without a far end may be joined to any line
(points joined by wires alone are one line: no reading says where on it a wire arrives), or end in
the air. Each such possibility is a row for the diagnosis, as a fault is; lengths and areas that
nobody gave are sampled over the range they may have.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from loomwright.circuit.faults import ENDS_AT, OHMS_TIMES
from loomwright.circuit.model import ISOLATED, Circuit, Fault, Wire, WireEnd
from loomwright.circuit.plant import CircuitPlant
from loomwright.circuit.plant.hypotheses import FaultRow
from loomwright.circuit.plant.predictions import DRAWS, Reader, spread_out
from loomwright.data.conductors import wire_ohm_per_m
from loomwright.errors import UnknownNameError
from loomwright.plant import NO_FAULT, Check, Hypothesis, Prediction, Repair

__all__ = ["IN_THE_AIR", "EndsPlant", "Line", "completed", "lines_of", "loose_wires"]

IN_THE_AIR = ""  # the destination of a wire that is joined to nothing
_AIR_PRIOR = 0.05  # share of loose ends that are joined to nothing; assumed
# What a length or area that nobody gave may be, one value per draw; assumed.
_LENGTHS_M = (0.5, 8.0, 1.5, 4.0)
_AREAS_MM2 = (0.5, 1.0, 2.5, 1.5)


@dataclass(frozen=True, slots=True)
class Line:
    """Points joined by wires alone; the first one, in file order, stands for all."""

    points: tuple[str, ...]

    @property
    def name(self) -> str:
        """Return the point that stands for the line."""
        return self.points[0]


def loose_wires(circuit: Circuit) -> tuple[str, ...]:
    """Return the wires whose far end nobody knows, in file order."""
    return tuple(wire.id for wire in circuit.wires.values() if wire.end is None)


def lines_of(circuit: Circuit) -> tuple[Line, ...]:
    """Return the lines of a circuit: every point once, those joined by wires together."""
    line_of = {point: point for point in circuit.points()}

    def root(point: str) -> str:
        while line_of[point] != point:
            point = line_of[point]
        return point

    order = {point: number for number, point in enumerate(line_of)}
    for wire in circuit.wires.values():
        if wire.end is not None:
            ends = sorted((root(wire.start.point), root(wire.end.point)), key=order.__getitem__)
            line_of[ends[1]] = ends[0]
    found: dict[str, list[str]] = {}
    for point in order:
        found.setdefault(root(point), []).append(point)
    return tuple(Line(tuple(points)) for points in found.values())


def completed(circuit: Circuit, ends: Mapping[str, str]) -> Circuit:
    """Return the circuit with loose wires joined to points (`IN_THE_AIR` leaves one loose).

    Raises
        UnknownNameError: no such wire or point
    """
    wires = dict(circuit.wires)
    for name, point in ends.items():
        if name not in wires:
            raise UnknownNameError("wire", name, wires)
        if point and point not in circuit.points():
            raise UnknownNameError("point", point, circuit.points())
        part, _, pin = point.partition(".")
        end = WireEnd(part, pin) if point else None
        wires[name] = dataclasses.replace(wires[name], end=end)
    return dataclasses.replace(circuit, wires=wires)


def _ohms(circuit: Circuit, wire: Wire) -> tuple[float, ...]:
    """Return the resistance of a wire [ohm] in each draw, over what nobody gave of it."""
    return tuple(
        (_LENGTHS_M[draw] if "length_m" in wire.assumed else wire.length_m)
        * wire_ohm_per_m(_AREAS_MM2[draw] if "area_mm2" in wire.assumed else wire.area_mm2,
                         circuit.temperature_c)
        for draw in range(DRAWS))


def _ends_row(circuit: Circuit, wire_id: str, point: str) -> FaultRow:
    """Return a loose wire joined to a point."""
    element = f"{wire_id}>{point}"
    samples = tuple(Fault(f"{ENDS_AT}:{element}:{ohm:.6g}", element, ENDS_AT, ohm)
                    for ohm in _ohms(circuit, circuit.wires[wire_id]))
    return FaultRow(Hypothesis(element, wire_id, ENDS_AT, element, 1.0), samples[0], samples)


def _length_row(circuit: Circuit, wire: Wire) -> FaultRow:
    """Return a wire with known ends whose length or area nobody gave."""
    nominal = wire.length_m * wire_ohm_per_m(wire.area_mm2, circuit.temperature_c)
    samples = tuple(Fault(f"{OHMS_TIMES}:{wire.id}:{ohm / nominal:.6g}", wire.id, OHMS_TIMES,
                          ohm / nominal) for ohm in _ohms(circuit, wire))
    return FaultRow(Hypothesis(samples[0].id, wire.id, OHMS_TIMES, "", 1.0), samples[0], samples)


class EndsPlant:
    """A circuit with loose ends as the plant of a belief: one row per set of destinations.

    The no-fault row is every wire of `wires` in the air; the known part has no fault. Validity:
    as `CircuitPlant`; wires that meet in a hidden splice look as if one ended at the other's start.
    """

    def __init__(self, circuit: Circuit, wires: Sequence[str]) -> None:
        """Keep the circuit and the loose wires to try together; nothing is solved yet.

        Raises UnknownNameError on a wire that is not loose.
        """
        loose = loose_wires(circuit)
        for name in wires:
            if name not in loose:
                raise UnknownNameError("loose wire", name, loose)
        self.circuit, self.wires = circuit, tuple(wires)
        self.known = CircuitPlant(circuit)
        self.lines = lines_of(circuit)
        self._unsure = tuple(_length_row(circuit, wire) for wire in circuit.wires.values()
                             if wire.end and wire.assumed & {"length_m", "area_mm2"})
        self.destinations: dict[str, tuple[str, ...]] = {}  # row id -> end of each of `wires`
        self._rows: dict[str, tuple[FaultRow, ...]] = {}
        self._readers: dict[tuple[str, ...], Reader] = {}  # the last one, by its rows
        self._hypotheses = self._all_rows()

    @property
    def air_share(self) -> float:
        """Return the prior share of the row in which every wire is joined to nothing."""
        return self._hypotheses[0].prior

    def choices(self, wire_id: str) -> tuple[str, ...]:
        """Return where a loose wire may end: a point of every line but its own, or the air."""
        own = self.circuit.wires[wire_id].start.point
        return (IN_THE_AIR, *(line.name for line in self.lines if own not in line.points))

    def _all_rows(self) -> tuple[Hypothesis, ...]:
        found = [dataclasses.replace(NO_FAULT, prior=_AIR_PRIOR ** len(self.wires))]
        self.destinations[NO_FAULT.fault_id] = (IN_THE_AIR,) * len(self.wires)
        self._rows[NO_FAULT.fault_id] = self._unsure
        for ends in itertools.product(*(self.choices(wire) for wire in self.wires)):
            pairs = [(wire, end) for wire, end in zip(self.wires, ends, strict=True) if end]
            if not pairs:
                continue
            name = "+".join(f"{wire}>{end}" for wire, end in pairs)
            prior = 1.0
            for wire, end in zip(self.wires, ends, strict=True):
                share = len(self.choices(wire)) - 1
                prior *= (1 - _AIR_PRIOR) / share if end else _AIR_PRIOR
            self.destinations[name] = ends
            joined = tuple(_ends_row(self.circuit, *pair) for pair in pairs)
            self._rows[name] = (*joined, *self._unsure)
            found.append(Hypothesis(name, "+".join(w for w, _ in pairs), ENDS_AT, name, prior))
        return tuple(found)

    def faults(self) -> Sequence[Hypothesis]:
        """Return every set of destinations but that of all wires in the air, which is no fault."""
        return self._hypotheses[1:]

    def repairs(self) -> Mapping[str, Repair]:
        """Return a class for every row; writing the wire list costs nothing."""
        return {row.repair: Repair(row.repair, row.repair, 0.0) for row in self._hypotheses}

    def checks(self) -> Sequence[Check]:
        """Return nothing: readings are predicted when asked for, see `offers`."""
        return ()

    def places(self) -> Mapping[str, float]:
        """Return minutes to reach each place."""
        return self.known.places()

    def setups(self) -> Mapping[str, float]:
        """Return minutes to bring the vehicle into each state, and to isolate the circuit."""
        return self.known.setups()

    def margin_checks(self, repair: str) -> Sequence[Check]:
        """Return nothing: a destination is no repair."""
        return ()

    def offers(self, wires: Sequence[str]) -> tuple[Check, ...]:
        """Return the readings that may tell where some loose wires end.

        Volts at every line and what every load does, in every state; a clamp on the wires; and
        continuity from their known ends to every line.
        """
        maker, circuit = self.known.maker, self.circuit
        found = list(maker.functions())
        names = {line.name for line in self.lines}
        found += [one for one in maker.candidates() if one.quantity == "voltage" and one.at in names
                  and one.to.endswith(".-")]
        for name in wires:
            start = circuit.wires[name].start.point
            found += [maker.make(state, "current", name, "", "clamp") for state in circuit.states]
            found += [maker.make(ISOLATED, "continuity", start, line.name)
                      for line in self.lines if start not in line.points]
        return tuple({one.id: one for one in found}.values())

    def predict(self, hypotheses: Sequence[Hypothesis], checks: Sequence[Check]) -> Prediction:
        """Return predicted readings of rows at checks, every row a variant of one batch.

        Raises UnknownNameError on a row of another plant.
        """
        samples = self._reader(tuple(one.fault_id for one in hypotheses)).samples(checks)
        return spread_out(samples, np.arange(len(hypotheses)))

    def _reader(self, names: tuple[str, ...]) -> Reader:
        """Return the solved states of rows; they serve every check asked of the same rows."""
        if names not in self._readers:
            for name in names:
                if name not in self._rows:
                    raise UnknownNameError("destination", name, self._rows)
            self._readers = {names: Reader(self.circuit, [self._rows[name] for name in names])}
        return self._readers[names]
