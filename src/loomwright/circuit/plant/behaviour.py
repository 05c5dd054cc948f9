"""Severity cells across which something switches, split so that each row behaves in one way.

A resistance at which a relay just pulls in, a lamp just glows or a controller just reads an input
gives readings of two sorts. Their mean is neither. So such a cell is sampled more finely,
tolerances included, and becomes one row for each behaviour found, its prior the share of the
samples. So is a short, whose few hundredths of an ohm may decide whether a relay still pulls in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from loomwright.circuit.model import Circuit
from loomwright.circuit.plant.hypotheses import FaultRow, span_ohm, with_ohms
from loomwright.circuit.plant.predictions import Reader
from loomwright.plant import SeverityCell

__all__ = ["BEHAVIOUR_DRAWS", "Split", "grouped_rows", "split_rows", "straddling"]

BEHAVIOUR_DRAWS = _SAMPLES = 8  # of one cell that straddles; two of each pattern of tolerances
_FEWEST = 2  # a behaviour seen once is counted with its neighbour: one sample has no spread


@dataclass(frozen=True, slots=True, eq=False)
class Split:
    """The rows that replace straddling cells, and what reads them.

    `cells` is, for each row, the number of the cell it comes from.
    """

    rows: tuple[FaultRow, ...]
    cells: tuple[int, ...]
    reader: Reader


def straddling(reader: Reader, rows: Sequence[FaultRow]) -> list[int]:
    """Return which rows have a range of resistance whose draws behave in several ways.

    `reader` has the no-fault row first, then `rows`.
    """
    found = reader.behaviour()[1:]
    several = (found != found[:, :1]).any(axis=1)
    return [number for number, row in enumerate(rows)
            if several[number] and span_ohm(row) is not None]


def split_rows(circuit: Circuit, cells: Sequence[FaultRow]) -> Split | None:
    """Return the cells as rows of one behaviour each; None where there are none."""
    if not cells:
        return None
    fine = [_finely(cell) for cell in cells]
    reader = Reader(circuit, [(cell,) for cell in fine], _SAMPLES)
    rows: list[FaultRow] = []
    groups: list[tuple[int, list[int]]] = []
    for number, (cell, found) in enumerate(zip(fine, reader.behaviour(), strict=True)):
        for draws in _together(found.tolist()):
            groups.append((number, draws))
            rows.append(_part(cell, draws, len(groups)))
    return Split(tuple(rows), tuple(number for number, _ in groups), reader.regrouped(groups))


def grouped_rows(reader: Reader, rows: Sequence[FaultRow]) -> Split:
    """Return rows that were already sampled finely (eight draws each) as rows of one behaviour."""
    found: list[FaultRow] = []
    groups: list[tuple[int, list[int]]] = []
    for number, (row, seen) in enumerate(zip(rows, reader.behaviour(), strict=True)):
        parts = _together(seen.tolist())
        for draws in parts:
            groups.append((number, draws))
            found.append(_part(row, draws, len(groups)) if len(parts) > 1 else row)
    return Split(tuple(found), tuple(number for number, _ in groups), reader.regrouped(groups))


def _finely(cell: FaultRow) -> FaultRow:
    span = span_ohm(cell)
    assert span is not None
    edges = np.geomspace(*span, 2 * _SAMPLES + 1)
    return replace(cell, samples=tuple(with_ohms(cell.fault, float(ohm)) for ohm in edges[1::2]))


def _together(found: Sequence[int]) -> list[list[int]]:
    """Return the samples of each behaviour; a rare one joins the sample next to it."""
    labels = list(found)
    for number, label in enumerate(labels):
        if labels.count(label) < _FEWEST:
            labels[number] = labels[number - 1] if number else labels[1]
    return [[n for n, one in enumerate(labels) if one == label] for label in dict.fromkeys(labels)]


def _part(cell: FaultRow, draws: Sequence[int], number: int) -> FaultRow:
    """Return the part of a cell that behaves in one way."""
    span = span_ohm(cell)
    assert span is not None
    step = (span[1] / span[0]) ** (1.0 / _SAMPLES)
    low, high = span[0] * step ** draws[0], span[0] * step ** (draws[-1] + 1)
    middle = SeverityCell(low, math.sqrt(low * high), high)
    severity = None if cell.hypothesis.severity is None else middle  # a short is named without
    row = replace(cell.hypothesis, severity=severity, variant=f"behaviour {number}",
                  prior=cell.hypothesis.prior * len(draws) / _SAMPLES)
    fault = with_ohms(cell.fault, middle.mid_ohm)
    return FaultRow(row, fault, tuple(cell.samples[draw] for draw in draws))
