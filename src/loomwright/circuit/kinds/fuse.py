"""Fuse: a small resistance that opens when overloaded."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from loomwright.circuit.kinds.base import TWO_PINS, Kind
from loomwright.circuit.kinds.common import on_branch
from loomwright.circuit.kinds.protection import ProtectionModel, contact_branch, protection_values
from loomwright.circuit.laws import BLOW_SHARE
from loomwright.circuit.model import ParamValue

__all__ = ["KIND", "fuse_ohm"]

_RATING_A = 15.0  # assumed
# A 10 A blade fuse drops 1.0 mV at 130 mA: 7.69 milliohm (maker's table, source S64 of the
# reference tables, published). Other ratings in inverse proportion: assumed.
_OHM_TIMES_AMPS = 0.0769


def fuse_ohm(rating_a: float) -> float:
    """Return a fuse's cold resistance [ohm] from its rating [A], in inverse proportion."""
    return _OHM_TIMES_AMPS / rating_a


class FuseModel(ProtectionModel):
    """Keys of a fuse in the circuit file."""

    type: Literal["blade", "maxi", "bolt-down"] = "blade"  # how quick it is


def _values(model: FuseModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    values, assumed = protection_values(model, _RATING_A, _OHM_TIMES_AMPS)
    return {**values, "type": model.type}, assumed


KIND = Kind(
    name="fuse",
    model=FuseModel,
    pins=lambda model: TWO_PINS,
    values=_values,
    symbol="fuse",
    default_price=1.0,
    fit_min=2.0,
    branches=contact_branch,
    opens_above=lambda part: BLOW_SHARE * part.number("rating_a"),
    fault_modes=(on_branch("blown", 0.05, "open"),),
)
