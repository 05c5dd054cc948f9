"""Severity cells across which something switches, split so that each row behaves in one way.

A resistance at which a relay just pulls in, a lamp just glows or a controller just reads an input
gives readings of two sorts. Their mean is neither. So such a cell is sampled more finely,
tolerances included, and becomes one row for each behaviour found, its prior the share of the
samples. So is a short, whose few hundredths of an ohm may decide whether a relay still pulls in, a
flat battery, whose volts may just hold it, and any other fault that leaves it to the tolerances.
A chafed wire carries its current up to the place: where a clamp would show another current beyond
it, each side is a row. A behaviour of one draw alone is a row too: its share is small, but within
another row it would spoil what all the others read.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from loomwright.circuit.model import Circuit
from loomwright.circuit.plant.hypotheses import SHORTS, FaultRow, emf_shares, span_ohm, with_ohms
from loomwright.circuit.plant.predictions import Reader
from loomwright.plant import SeverityCell

__all__ = ["SAMPLES", "Split", "far_ends", "grouped_rows", "split_rows", "straddling"]

SAMPLES = 16  # of one cell that straddles: severities, tolerances and switching points
Groups = Sequence[tuple[int, Sequence[int]]]  # number of a cell, numbers of its draws

_NEAR = 2  # samples beside those of another behaviour
_FEWEST_APART = 3  # of a behaviour's samples, near another behaviour and beyond it


@dataclass(frozen=True, slots=True, eq=False)
class Split:
    """The rows that replace straddling cells, and what reads them.

    `cells` is, for each row, the number of the cell it comes from; `groups` its cell and draws.
    """

    rows: tuple[FaultRow, ...]
    cells: tuple[int, ...]
    reader: Reader
    groups: Groups = ()


def far_ends(rows: Sequence[FaultRow]) -> dict[int, FaultRow]:
    """Return the last cell of each resistance at its far end, by the cell's number."""
    last = {row.hypothesis.fault_id: number for number, row in enumerate(rows)
            if row.hypothesis.severity is not None}
    found = {}
    for number in last.values():
        span = span_ohm(rows[number])
        assert span is not None
        found[number] = replace(rows[number], samples=(with_ohms(rows[number].fault, span[1]),))
    return found


def straddling(reader: Reader, rows: Sequence[FaultRow], ends: Sequence[int]) -> list[int]:
    """Return which rows have draws that behave in several ways.

    Where two cells of one fault that lie side by side behave differently, the switching point may
    be near the edge of either, beyond its outermost draw: both count. So does a last cell that
    behaves otherwise at its far end. `reader` has the no-fault row first, then `rows`, then the far
    ends of the rows numbered `ends`.
    """
    told = reader.behaviour()[1:]
    found = told[:len(rows)]
    several = (found != found[:, :1]).any(axis=1)
    for number, (one, other) in enumerate(itertools.pairwise(rows)):
        if (one.hypothesis.fault_id == other.hypothesis.fault_id
                and found[number, 0] != found[number + 1, 0]
                and not several[number] and not several[number + 1]):
            several[number] = several[number + 1] = True
    for number, end in zip(ends, told[len(rows):], strict=True):
        several[number] |= (end != found[number, 0]).any()
    for number, row in enumerate(rows):
        several[number] |= _is_short(row) and reader.beyond(number + 1, row.fault.element).any()
    return np.flatnonzero(several).tolist()


def split_rows(circuit: Circuit, cells: Sequence[FaultRow], groups: Groups = ()) -> Split | None:
    """Return the cells as rows of one behaviour each; None where there are none.

    `groups`, where they are known already, are what `Split.groups` was: then nothing is solved.
    """
    if not cells:
        return None
    fine = [_finely(cell) for cell in cells]
    reader = Reader(circuit, [(cell,) for cell in fine], SAMPLES)
    groups = groups or _groups(fine, reader)
    rows = tuple(_part(fine[cell], draws, number) for number, (cell, draws) in enumerate(groups, 1))
    return Split(rows, tuple(cell for cell, _ in groups), reader.regrouped(groups), tuple(groups))


def _groups(fine: Sequence[FaultRow], reader: Reader) -> Groups:
    """Return the draws of each behaviour of each cell."""
    groups: list[tuple[int, list[int]]] = []
    for number, (cell, found) in enumerate(zip(fine, reader.behaviour(), strict=True)):
        parts = _together(found.tolist())
        if _is_short(cell):
            sides = reader.beyond(number, cell.fault.element).tolist()
            parts = [side for part in parts for side in _apart(part, sides)]
        # of a short nobody asks how many ohms it has, nor of a battery how many volts
        parts = parts if cell.hypothesis.severity is None else _narrowed(parts)
        groups += [(number, draws) for draws in parts]
    return groups


def grouped_rows(
    reader: Reader, rows: Sequence[FaultRow], kinds: Sequence[Sequence[int]]
) -> Split:
    """Return rows that were already sampled finely as rows of one behaviour and one kind of draw.

    `kinds` gives a number for each draw of each row: draws of another number are another row.
    """
    found: list[FaultRow] = []
    groups: list[tuple[int, list[int]]] = []
    for number, (row, seen) in enumerate(zip(rows, reader.behaviour(), strict=True)):
        for alike in _together(seen.tolist()):
            for draws in _apart(alike, kinds[number]):
                groups.append((number, draws))
                found.append(_some(row, draws, len(groups)))
    return Split(tuple(found), tuple(number for number, _ in groups), reader.regrouped(groups))


def _is_short(row: FaultRow) -> bool:
    """Return whether a row is a chafed wire: a clamp may sit on either side of the place."""
    return row.hypothesis.kind in SHORTS


def _apart(draws: Sequence[int], kinds: Sequence[int]) -> list[list[int]]:
    """Return draws by their kind."""
    return [[draw for draw in draws if kinds[draw] == kind]
            for kind in dict.fromkeys(kinds[draw] for draw in draws)]


def _some(row: FaultRow, draws: Sequence[int], number: int) -> FaultRow:
    """Return a row of some draws of another: named after their place, at their resistances."""
    samples = tuple(row.samples[draw] for draw in draws)
    ohms = [one.ohms or 0.0 for one in samples]
    span = row.hypothesis.severity
    assert span is not None
    half = (span.high_ohm / span.low_ohm) ** (0.5 / len({one.ohms for one in row.samples}))
    low, high = min(ohms) / half, max(ohms) * half
    cell = SeverityCell(low, math.sqrt(low * high), high)
    end = row.hypothesis.element.partition("~")[2]
    element = f"{samples[0].element.partition('~')[0]}~{end}"
    part = replace(row.hypothesis, element=element, severity=cell, variant=f"behaviour {number}",
                   prior=row.hypothesis.prior * len(draws) / len(row.samples))
    return FaultRow(part, samples[len(samples) // 2], samples)


def _finely(cell: FaultRow) -> FaultRow:
    span = span_ohm(cell)
    if span is None:
        return replace(cell, samples=(cell.fault,) * SAMPLES, emf=emf_shares(cell, SAMPLES))
    edges = np.geomspace(*span, 2 * SAMPLES + 1)
    return replace(cell, samples=tuple(with_ohms(cell.fault, float(ohm)) for ohm in edges[1::2]))


def _together(found: Sequence[int]) -> list[list[int]]:
    """Return the samples of each behaviour."""
    return _apart(range(len(found)), found)


def _narrowed(groups: Sequence[list[int]]) -> list[list[int]]:
    """Return the groups, what lies among or beside others apart from what lies beyond them.

    Where a relay may or may not pull in, both behaviours fit a reading; a row that also reaches
    far from there would predict a mean far from there.
    """
    found = []
    for group in groups:
        among = [draw for draw in group if any(
            other[0] - _NEAR <= draw <= other[-1] + _NEAR
            for other in groups if other is not group)]
        beyond = [draw for draw in group if draw not in among]
        apart = len(among) >= _FEWEST_APART and len(beyond) >= _FEWEST_APART
        found += [beyond, among] if apart else [group]
    return found


def _part(cell: FaultRow, draws: Sequence[int], number: int) -> FaultRow:
    """Return the part of a cell that behaves in one way."""
    told = cell.hypothesis
    row = replace(told, variant=f"{told.variant} behaviour {number}".lstrip(),
                  prior=told.prior * len(draws) / len(cell.samples))
    samples = tuple(cell.samples[draw] for draw in draws)
    span = span_ohm(cell)
    if span is None:
        emf = tuple(cell.emf[draw] for draw in draws) if cell.emf else ()
        return FaultRow(row, cell.fault, samples, emf)
    step = (span[1] / span[0]) ** (1.0 / len(cell.samples))
    low, high = span[0] * step ** draws[0], span[0] * step ** (draws[-1] + 1)
    middle = SeverityCell(low, math.sqrt(low * high), high)
    severity = None if told.severity is None else middle  # a short is named without
    fault = with_ohms(cell.fault, middle.mid_ohm)
    return FaultRow(replace(row, severity=severity), fault, samples)
