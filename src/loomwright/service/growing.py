"""Growing a circuit that is partly known: where its loose wires end, by the readings taken.

With few ends every set of destinations is one row of a joint belief. With many, each wire is
judged with the others at their likeliest ends, again and again until nothing changes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loomwright.errors import UsageError
from loomwright.service.bench import evidence_from, read_file_of, read_known
from loomwright.service.growing_lengths import FoundLength, lengths_by_drop, unknown_lengths

if TYPE_CHECKING:
    from loomwright.circuit.model import Circuit
    from loomwright.circuit.unknown_ends import EndsPlant
    from loomwright.diagnosis.records import Evidence
    from loomwright.diagnosis.table import CheckModel
    from loomwright.plant import Check, Hypothesis

__all__ = ["Destination", "Growth", "LooseEnd", "NextReading", "trace_ends"]

SURE = 0.95  # share of the belief at which an end counts as found
_TAKEN_FOR_TRUE = 0.2  # share of one line at which the other wires are judged as if it were so
_LIKELY = 1e-3  # rows below this share of the belief are left out of what to measure next
_MOST_LIKELY = 60
_MOST_JOINT_ROWS = 600
_MOST_ROUNDS = 6


@dataclass(frozen=True, slots=True)
class Destination:
    """Lines that no reading tells apart as the end of a wire, the air among them or not."""

    lines: tuple[tuple[str, ...], ...]  # the points of each
    in_the_air: bool
    probability: float

    @property
    def points(self) -> tuple[str, ...]:
        """Return every point where the wire may arrive."""
        return tuple(point for line in self.lines for point in line)

    @property
    def text(self) -> str:
        """Return the lines in words, each by its first two points."""
        found = [" = ".join(line[:2]) for line in self.lines]
        return ", ".join([*found, *(["in the air"] if self.in_the_air else [])])


@dataclass(frozen=True, slots=True)
class LooseEnd:
    """What the readings say of one loose wire.

    `status` is `found` (one line), `one of` (lines no reading tells apart), `in the air` or
    `open`. `line_to_write` is the entry for the wire list ('' until one line is found:
    an entry would make a guess look known).
    """

    wire: str
    start: str
    status: str
    destinations: tuple[Destination, ...]
    text: str
    line_to_write: str = ""


@dataclass(frozen=True, slots=True)
class NextReading:
    """A reading that would tell destinations apart: bits expected, and minutes with the way."""

    check: Check
    bits: float
    minutes: float


@dataclass(frozen=True, slots=True)
class Growth:
    """The loose ends of a circuit by the readings, what to measure next, and lengths found.

    `unexplained` is the share of the belief that no set of destinations explains the readings.
    """

    circuit: Circuit
    ends: tuple[LooseEnd, ...]
    next_readings: tuple[NextReading, ...]
    unexplained: float
    notes: tuple[str, ...]
    lengths: tuple[FoundLength, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Judged:
    """A belief over sets of destinations: likely rows with their shares, and their predictions."""

    plant: EndsPlant
    rows: tuple[Hypothesis, ...]
    shares: tuple[float, ...]
    unexplained: float


def trace_ends(path: str, readings_path: str, next_count: int = 5, *, large: bool = False
               ) -> Growth:
    """Return where the loose wires of a circuit end, as far as the readings tell.

    Parameters
        path: the circuit file, with wires to `unknown`
        readings_path: the readings file; '' for no reading yet
        next_count: how many next readings to give
        large: judge a circuit of any size, as long as it takes
    Raises
        UsageError: a file is missing or has problems (all together), the circuit is too large to
            be searched, or there is neither a loose end nor a length to tell
        SolveError: there is no trustworthy solution
    """
    from loomwright.circuit.readings import read_readings
    from loomwright.circuit.unknown_ends import EndsPlant, completed, loose_wires
    from loomwright.service.circuit_size import check_unless_large

    circuit = read_known(path)
    check_unless_large(circuit, large)
    wires = loose_wires(circuit)
    plant = EndsPlant(circuit, ())
    readings = read_file_of(readings_path, "readings", lambda name: read_readings(name, circuit)) \
        if readings_path else ()
    evidence = evidence_from(plant.known, readings, readings_path)
    judged = _judge(circuit, wires, evidence)
    ends, best = [], []
    for name, one in judged.items():
        found, offers = _loose_end(one, name)
        ends.append(found)
        best += sorted(offers, key=_worth)[:1]
    first = list(dict.fromkeys(sorted(best, key=_worth)))[:next_count]
    unexplained = max((one.unexplained for one in judged.values()), default=0.0)
    grown = completed(circuit, {one.wire: one.destinations[0].points[0] for one in ends
                                if one.status == "found"})
    lengths = lengths_by_drop(grown, evidence)
    if not wires and not lengths:
        raise UsageError("Every wire of this circuit has both its ends, and no reading tells a "
                         "length.", next_step="Write 'unknown' as the far end of a wire to be "
                         "traced, or read the volts across one of unknown length.")
    left = len(unknown_lengths(grown)) - len(lengths)
    return Growth(circuit, tuple(ends), tuple(first), unexplained,
                  tuple(_notes(judged, unexplained, left)), lengths)


def _worth(one: NextReading) -> tuple[float, str]:
    """Return the order of next readings: most bits per minute first."""
    return -round(one.bits / one.minutes, 9), one.check.id


def _judge(circuit: Circuit, wires: Sequence[str], evidence: Sequence[Evidence]
           ) -> Mapping[str, _Judged]:
    """Return the belief that each wire is judged by: one for all, or one each."""
    from loomwright.circuit.unknown_ends import EndsPlant, completed, lines_of

    if (len(lines_of(circuit)) + 1) ** len(wires) <= _MOST_JOINT_ROWS:
        together = _believed(EndsPlant(circuit, wires), evidence)
        return dict.fromkeys(wires, together)
    ends = dict.fromkeys(wires, "")
    for _ in range(_MOST_ROUNDS):
        found: dict[str, _Judged] = {}
        before = dict(ends)
        for name in wires:
            others = {other: end for other, end in ends.items() if other != name}
            found[name] = _believed(EndsPlant(completed(circuit, others), [name]), evidence)
            one = found[name]
            likely = one.shares[0] >= _TAKEN_FOR_TRUE
            ends[name] = one.plant.destinations[one.rows[0].fault_id][0] if likely else ""
        if ends == before:
            break
    return found


def _believed(plant: EndsPlant, evidence: Sequence[Evidence]) -> _Judged:
    """Return the belief over the rows of a plant, the likeliest first."""
    from loomwright.diagnosis.belief import believe
    from loomwright.diagnosis.records import Settings
    from loomwright.diagnosis.table import build_table

    table = build_table(plant, Settings(complaint_no_fault=plant.air_share))
    shares = believe(table, tuple(evidence)).rows
    explained = max(float(shares[:-1].sum()), 1e-300)
    order = sorted(range(len(shares) - 1), key=lambda row: -shares[row])[:_MOST_LIKELY]
    kept = [row for row in order if shares[row] / explained >= _LIKELY]
    total = sum(float(shares[row]) for row in kept)
    return _Judged(plant, tuple(table.rows[row] for row in kept),
                   tuple(float(shares[row]) / total for row in kept), float(shares[-1]))


def _models(judged: _Judged, checks: tuple[Check, ...]) -> tuple[tuple[CheckModel, ...], object]:
    from loomwright.diagnosis.table import models_of

    prediction = judged.plant.predict(judged.rows, checks)
    return models_of(prediction, checks, len(prediction.weights)), prediction.weights


def _loose_end(judged: _Judged, wire: str) -> tuple[LooseEnd, list[NextReading]]:
    """Return what is known of one wire, and the readings that would tell more of it."""
    import numpy as np

    from loomwright.diagnosis.telling_apart import groups_of, split_bits, steps_of

    plant = judged.plant
    place = plant.wires.index(wire)
    ends = [plant.destinations[row.fault_id][place] for row in judged.rows]
    # one row for each end: the likeliest one; the rest of the rows only add to its share
    first = {end: number for number, end in reversed(list(enumerate(ends)))}
    choices = sorted(first, key=first.__getitem__)
    shares = np.array([sum(share for end, share in zip(ends, judged.shares, strict=True)
                           if end == choice) for choice in choices])
    checks = plant.offers([wire])
    models, weights = _models(judged, checks)
    rows = [first[choice] for choice in choices]
    steps = [steps_of(model, weights)[rows] for model in models]  # type: ignore[arg-type]
    groups = groups_of(steps, len(choices))
    members = [[choices[number] for number in group] for group in groups]
    masses = [float(sum(shares[number] for number in group)) for group in groups]
    found = tuple(_destination(plant, names, mass) for names, mass in
                  sorted(zip(members, masses, strict=True), key=lambda pair: -pair[1]))
    offers = []
    if found[0].probability < SURE:
        offers = [NextReading(check, bits, _minutes(plant, check))
                  for check, one in zip(checks, steps, strict=True)
                  if (bits := split_bits(one, shares)) > 0.01]
    return _told(plant.circuit, wire, found), offers


def _minutes(plant: EndsPlant, check: Check) -> float:
    return check.minutes + plant.setups().get(check.setup, 0.0) \
        + plant.places().get(check.place, 0.0)


def _destination(plant: EndsPlant, names: Sequence[str], share: float) -> Destination:
    lines = tuple(line.points for line in plant.lines if line.name in names)
    return Destination(lines, "" in names, min(share, 1.0))


def _told(circuit: Circuit, wire: str, found: tuple[Destination, ...]) -> LooseEnd:
    start = circuit.wires[wire].start.point
    best = found[0]
    sure = best.probability >= SURE
    if not sure:
        status, text = "open", _open_text(wire, found)
    elif not best.lines:
        status, text = "in the air", f"{wire} is joined to nothing that a reading shows."
    elif len(best.lines) == 1 and not best.in_the_air:
        more = f", one line with {', '.join(best.points[1:])}" if best.points[1:] else ""
        status, text = "found", f"{wire} ends at {best.points[0]}{more}."
    else:
        status = "one of"
        text = f"{wire} ends at one of: {best.text}. No reading tells these apart; look, or " \
               "pull the fuse or plug between them."
    written = _entry(circuit, wire, best.points) if status == "found" else ""
    return LooseEnd(wire, start, status, found, text, written)


def _open_text(wire: str, found: tuple[Destination, ...]) -> str:
    likely = [one for one in found if one.probability >= 0.05][:4]
    ends = "; ".join(f"{one.text} ({100 * one.probability:.0f} %)" for one in likely)
    rest = len(found) - len(likely)
    more = f"; {rest} less likely" if rest else ""
    return f"It cannot be concluded where {wire} ends: {ends or 'anywhere'}{more}."


def _entry(circuit: Circuit, wire_id: str, points: Sequence[str]) -> str:
    """Return the wire as an entry of the wire list, with what is known of it.

    Of the points of its line an earth is taken, or else the first.
    """
    wire = circuit.wires[wire_id]
    earths = [name for name in points if circuit.parts[name.split(".")[0]].kind == "earth"]
    point = (earths or list(points))[0]
    area = "unknown" if "area_mm2" in wire.assumed else f"{wire.area_mm2:g} mm2"
    length = "unknown" if "length_m" in wire.assumed else f"{wire.length_m:g} m"
    colour = f", {wire.colour}" if wire.colour else ""
    return f"- [{wire.id}, {wire.start.point}, {point}, {area}, {length}{colour}]"


def _notes(judged: Mapping[str, _Judged], unexplained: float, no_length: int) -> list[str]:
    found = ["The known part is taken to be without fault."]
    if len({id(one) for one in judged.values()}) > 1:
        found.append("Each wire is judged with the others at their likeliest ends.")
    if unexplained > 0.5 and math.isfinite(unexplained):
        found.append("No set of destinations explains all readings: repeat the odd one, and look "
                     "for a fault or for a part the file does not have.")
    if no_length:
        found.append(f"The length of {no_length} wires is not known and is assumed: the volts "
                     "across one, read while it carries current, tell it.")
    return found
