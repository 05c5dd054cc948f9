"""Alternator with rectifier and regulator, by its average over time."""

from __future__ import annotations

import math
from collections.abc import Mapping

from pydantic import Field

from loomwright.circuit.branches import Branch, FaultMode, Override, Plunger
from loomwright.circuit.kinds.base import Amps, Kind, PartModel, Volts, with_defaults
from loomwright.circuit.kinds.common import WORD_LIMIT, Reads, state_quantity
from loomwright.circuit.kinds.thermistor import Degrees
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND", "output_share", "set_volts"]

_RATED_A_AT_12V = 90.0  # assumed
# 14.4 +/- 0.3 V at 20 degC, -0.1 V for every 10 degC (source S76, published).
_SET_V_PER_12V, _SET_V_PER_12V_AND_K, _BASE_C = 14.4, -0.01, 20.0
_CUT_IN_RPM = 520.0  # of the engine: where the alternator begins to give; assumed
_USUAL_RPM = 2500.0  # what `yes` stands for; assumed
_INNER_OHM_PER_12V = 0.003  # how far the volts fall with the load while it regulates; assumed
_FIELD_OHM_PER_12V = 4.0  # rotor, brushes and regulator; from memory
_EXCITED_A, _LOST_A = 0.08, 0.03  # field current that starts it, that keeps it; assumed
_TRIO_A = 8.0  # what the field diodes can give; assumed
_TRIO_OHM = 0.05  # assumed
_DIODE_OPEN_SHARE = 0.65  # output left with one diode open; assumed
_DIODE_SHORTED_SHARE = 0.5  # output left with one diode shorted; assumed
_DRAIN_OHM_PER_12V = 12.0  # shorted and leaky diodes drain 1 A; assumed
_HIGH, _LOW = 1.15, 0.9  # set volts of a bad regulator: 16.6 and 13.0 V; assumed


class AlternatorModel(PartModel):
    """Keys of an alternator in the circuit file. D+ goes to the charge lamp and excites it."""

    reads: str = Field(default="engine", min_length=1, max_length=WORD_LIMIT)  # engine speed
    current: Amps | None = None  # rated output
    set_volts: Volts | None = None
    temperature: Degrees | None = None  # of the regulator


def output_share(engine_rpm: float, cut_in_rpm: float = _CUT_IN_RPM) -> float:
    """Return the share of its limiting current that an alternator can give at an engine speed.

    I = I_limit sqrt(1 - (n0/n)^2): a voltage that grows with speed behind a reactance that grows
    with it too, held at constant volts; resistance left out. From memory; good from idle up.
    """
    if engine_rpm <= cut_in_rpm:
        return 0.0
    return math.sqrt(1 - (cut_in_rpm / engine_rpm) ** 2)


def set_volts(system_v: float, temperature_c: float = _BASE_C) -> float:
    """Return the volts [V] a regulator holds at its temperature: 14.4 V at 20 degC, -10 mV/K.

    Per 12 V of system; valid -20 to 80 degC; source S76.
    """
    return system_v / 12 * (_SET_V_PER_12V + _SET_V_PER_12V_AND_K * (temperature_c - _BASE_C))


def _values(model: AlternatorModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    temperature = _BASE_C if model.temperature is None else model.temperature
    values, assumed = with_defaults(
        {"rated_a": model.current, "set_v": model.set_volts, "temperature_c": model.temperature},
        {"rated_a": _RATED_A_AT_12V * 12 / system_v, "set_v": set_volts(system_v, temperature),
         "temperature_c": temperature},
    )
    return {**values, "reads": " ".join(model.reads.split())}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    name, blocks, set_v = part.id, system_v / 12, part.number("set_v")
    plus, earth, lamp = f"{name}.B+", f"{name}.B-", f"{name}.D+"
    reads = Reads(str(part.params["reads"]), "rpm", _USUAL_RPM, 0.0)

    def by_state(conditions: Mapping[str, str]) -> tuple[float, float, float]:
        return 1.0, 1.0, output_share(state_quantity(conditions, reads))

    return (
        Branch(name, earth, plus, _INNER_OHM_PER_12V * blocks, emf=set_v, law="regulated",
               gate=f"relay:{name}", rated_a=part.number("rated_a"), by_state=by_state),
        Branch(f"{name}.field", lamp, earth, _FIELD_OHM_PER_12V * blocks, spread="load"),
        # the field diodes raise D+ once it charges, and the lamp goes out
        Branch(f"{name}.trio", earth, lamp, _TRIO_OHM, emf=set_v, law="regulated",
               gate=f"relay:{name}", rated_a=_TRIO_A, by_state=by_state),
        Branch(f"{name}.drain", plus, earth, _DRAIN_OHM_PER_12V * blocks, gate="never"),
    )


def _regulator(kind: str, prior: float, share: float) -> FaultMode:
    return FaultMode(kind, prior, lambda part, item, ohms: (
        Override(part.id, "emf", share), Override(f"{part.id}.trio", "emf", share)))


KIND = Kind(
    name="alternator",
    model=AlternatorModel,
    pins=lambda model: ("B+", "B-", "D+"),
    values=_values,
    symbol="alternator",
    default_price=260.0,
    fit_min=60.0,
    branches=_branches,
    plungers=lambda part: (
        Plunger(part.id, (f"{part.id}.field",), _EXCITED_A, _LOST_A, by="amps"),),
    quantities=lambda part: {str(part.params["reads"]): "rpm"},
    fault_modes=(
        FaultMode("no-excitation", 0.03,
                  lambda part, item, ohms: (Override(f"{part.id}.field", "open"),)),
        FaultMode("diode-open", 0.01,
                  lambda part, item, ohms: (Override(part.id, "limit", _DIODE_OPEN_SHARE),)),
        FaultMode("diode-shorted", 0.015, lambda part, item, ohms: (
            Override(part.id, "limit", _DIODE_SHORTED_SHARE),
            Override(f"{part.id}.drain", "closed"))),
        _regulator("regulator-high", 0.01, _HIGH),
        _regulator("regulator-low", 0.01, _LOW),
    ),
)
