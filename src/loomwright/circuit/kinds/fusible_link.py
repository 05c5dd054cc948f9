"""Fusible link: a short thin wire that melts before the loom does."""

from __future__ import annotations

import math
from collections.abc import Mapping

from loomwright.circuit.branches import Branch
from loomwright.circuit.kinds.base import (
    TWO_PINS,
    Amps,
    Kind,
    Metres,
    PartModel,
    SquareMillimetres,
    with_defaults,
)
from loomwright.circuit.kinds.common import on_branch, two_points
from loomwright.circuit.model import ParamValue, Part
from loomwright.data.conductors import wire_ohm_per_m

__all__ = ["KIND", "melting_a"]

_AREA_MM2 = 1.0  # assumed
_LENGTH_M = 0.15  # assumed
# W. H. Preece: copper in free air melts at 80 A per mm^1.5 of diameter; the published table has
# 100 A at 0.0457 in (source S15 of the reference tables). Insulation moves it; assumed not to.
_PREECE_A = 80.0


def melting_a(area_mm2: float) -> float:
    """Return the current [A] that melts a copper wire of an area [mm2], by Preece's rule.

    Valid for a bare wire in free air, given time; source: Preece, I = 80 d^1.5.
    """
    diameter_mm = math.sqrt(4 * area_mm2 / math.pi)
    return _PREECE_A * float(diameter_mm**1.5)


class FusibleLinkModel(PartModel):
    """Keys of a fusible link in the circuit file."""

    area: SquareMillimetres | None = None
    length: Metres | None = None
    melts_at: Amps | None = None


def _values(model: FusibleLinkModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    area = _AREA_MM2 if model.area is None else model.area
    return with_defaults(
        {"area_mm2": model.area, "length_m": model.length, "rating_a": model.melts_at},
        {"area_mm2": area, "length_m": _LENGTH_M, "rating_a": melting_a(area)},
    )


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    a, b = two_points(part)
    ohm = part.number("length_m") * wire_ohm_per_m(part.number("area_mm2"))
    return (Branch(part.id, a, b, ohm, spread="contact"),)


KIND = Kind(
    name="fusible link",
    model=FusibleLinkModel,
    pins=lambda model: TWO_PINS,
    values=_values,
    symbol="fuse",
    default_price=15.0,
    fit_min=20.0,
    branches=_branches,
    opens_above=lambda part: part.number("rating_a"),
    fault_modes=(on_branch("blown", 0.02, "open"),),
)
