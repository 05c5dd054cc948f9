"""Controller: inputs with pulls, driven outputs, and rules from one to the other."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from loomwright.circuit.branches import Branch, FaultMode, Override
from loomwright.circuit.kinds.base import (
    Amps,
    Kind,
    Ohms,
    PartModel,
    PinName,
    Rule,
    Volts,
    with_defaults,
)
from loomwright.circuit.kinds.timing import TimingKeys, timing_read
from loomwright.circuit.model import (
    ControllerInput,
    ControllerOutput,
    ControllerReference,
    ParamValue,
    Part,
)

__all__ = ["KIND", "inputs_of", "lamp_out_word", "outputs_of", "references_of"]

_MINIMUM_V_PER_12V = 9.0  # below this it does not work; assumed
_DRAW_A_AT_12V = 0.1  # its own working current; assumed
_THRESHOLD_SHARE = 0.5  # of system volts at an input; assumed
_PULL_OHM = 10_000.0  # assumed
_LIMIT_A = 5.0  # assumed
_ON_OHM = 0.1  # assumed
_REFERENCE_V = 5.0  # common practice
_REFERENCE_A = 0.1  # limit; assumed
_REFERENCE_OHM = 0.5  # how far the volts fall before the limit; assumed
_OFF_OHM = 2e9  # an output that is off leaks some 10 nA, which no meter shows; assumed

_KEYS = ConfigDict(
    extra="forbid", frozen=True, alias_generator=lambda name: name.replace("_", " "),
    validate_by_name=False, validate_by_alias=True,
)


class InputModel(BaseModel):
    """Keys of a controller input."""

    model_config = _KEYS

    pin: PinName
    pull: Literal["down", "up"] = "down"
    on_when: Literal["high", "low"] | None = None  # a pulled-up input is on when low
    pull_resistance: Ohms | None = None
    pull_volts: Volts | None = None  # of a pull-up; the controller's supply where not given
    threshold: Volts | None = None

    @model_validator(mode="after")
    def _volts_are_of_a_pull_up(self) -> InputModel:
        if self.pull_volts is not None and self.pull == "down":
            raise ValueError("'pull volts' are those of an input with 'pull: up'")
        return self


class OutputModel(TimingKeys):
    """Keys of a controller output."""

    model_config = _KEYS

    pin: PinName
    drives: Literal["high side", "low side"] = "high side"
    limit: Amps | None = None
    on_resistance: Ohms | None = None
    leakage: Amps | None = None  # at system volts while off
    when: Rule


class ReferenceModel(BaseModel):
    """Keys of a supply for sensors."""

    model_config = _KEYS

    pin: PinName
    volts: Volts | None = None
    limit: Amps | None = None


class ControllerModel(PartModel):
    """Keys of a controller in the circuit file."""

    supply: PinName
    earth: PinName
    inputs: dict[str, InputModel] = Field(default_factory=dict)
    outputs: dict[str, OutputModel] = Field(default_factory=dict)
    references: dict[str, ReferenceModel] = Field(default_factory=dict)
    minimum_volts: Volts | None = None
    draw: Amps | None = None


def _pins(model: ControllerModel) -> tuple[str, ...]:
    inputs = [item.pin for item in model.inputs.values()]
    outputs = [item.pin for item in model.outputs.values()]
    references = [item.pin for item in model.references.values()]
    return tuple(dict.fromkeys([model.supply, model.earth, *inputs, *outputs, *references]))


def _input(name: str, model: InputModel, system_v: float) -> ControllerInput:
    usual = "low" if model.pull == "up" else "high"
    return ControllerInput(
        name, model.pin, model.pull, model.on_when or usual,
        model.pull_resistance or _PULL_OHM,
        model.threshold or _THRESHOLD_SHARE * (model.pull_volts or system_v), model.pull_volts,
    )


def _output(name: str, model: OutputModel, system_v: float) -> ControllerOutput:
    return ControllerOutput(
        name, model.pin, model.drives, model.when, model.limit or _LIMIT_A,
        model.on_resistance or _ON_OHM, timing_read(model),
        system_v / model.leakage if model.leakage else _OFF_OHM,
    )


def _values(model: ControllerModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    values, assumed = with_defaults(
        {"minimum_v": model.minimum_volts, "draw_a": model.draw},
        {"minimum_v": _MINIMUM_V_PER_12V * system_v / 12,
         "draw_a": _DRAW_A_AT_12V * 12 / system_v},
    )
    inputs = tuple(_input(name, item, system_v) for name, item in model.inputs.items())
    outputs = tuple(_output(name, item, system_v) for name, item in model.outputs.items())
    references = tuple(
        ControllerReference(name, item.pin, item.volts or _REFERENCE_V, item.limit or _REFERENCE_A)
        for name, item in model.references.items())
    return {**values, "supply": model.supply, "earth": model.earth, "inputs": inputs,
            "outputs": outputs, "references": references}, assumed


def lamp_out_word(output: str) -> str:
    """Return the word of rules that holds while an output carries too little current."""
    return f"{output} lamp out"


def inputs_of(part: Part) -> tuple[ControllerInput, ...]:
    """Return a controller's inputs (none for other parts)."""
    found = part.params.get("inputs", ())
    assert isinstance(found, tuple)
    return tuple(item for item in found if isinstance(item, ControllerInput))


def outputs_of(part: Part) -> tuple[ControllerOutput, ...]:
    """Return a controller's outputs (none for other parts)."""
    found = part.params.get("outputs", ())
    assert isinstance(found, tuple)
    return tuple(item for item in found if isinstance(item, ControllerOutput))


def references_of(part: Part) -> tuple[ControllerReference, ...]:
    """Return the supplies a controller gives its sensors (none for other parts)."""
    found = part.params.get("references", ())
    assert isinstance(found, tuple)
    return tuple(item for item in found if isinstance(item, ControllerReference))


def _reference_branches(part: Part, supply: str, earth: str) -> list[Branch]:
    """Return a series regulator for each reference: what it gives, it draws from the supply."""
    found, alive = [], f"alive:{part.id}"
    for item in references_of(part):
        name = f"{part.id}.{item.id}"
        found += [
            Branch(name, earth, f"{part.id}.{item.pin}", _REFERENCE_OHM, emf=item.volts,
                   law="regulated", gate=alive, rated_a=item.limit_a),
            Branch(f"{name}.feed", supply, earth, 1.0, law="mirror", gate=alive, feeds=name,
                   rated_v=part.number("minimum_v")),
        ]
    return found


def _pull(part: Part, item: ControllerInput, supply: str, earth: str) -> Branch:
    """Return an input's own resistor, to the supply, to earth, or to volts made inside."""
    name, pin = f"{part.id}.{item.id}.pull", f"{part.id}.{item.pin}"
    if item.pull_v is not None:  # made inside, and only while the controller works
        return Branch(name, earth, pin, item.pull_ohm, emf=item.pull_v, steady=True,
                      gate=f"alive:{part.id}", spread="load")
    return Branch(name, pin, supply if item.pull == "up" else earth, item.pull_ohm,
                  spread="load")


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    name = part.id
    supply, earth = f"{name}.{part.params['supply']}", f"{name}.{part.params['earth']}"
    found = [Branch(f"{name}.draw", supply, earth, system_v / part.number("draw_a"),
                    gate="supplied", spread="load", rated_v=system_v)]
    for item in inputs_of(part):
        found.append(_pull(part, item, supply, earth))
    for out in outputs_of(part):
        pin = f"{name}.{out.pin}"
        a, b = (supply, pin) if out.drives == "high side" else (pin, earth)
        found.append(Branch(f"{name}.{out.id}", a, b, out.on_ohm, gate=f"output:{name}.{out.id}",
                            spread="contact", off_ohm=out.off_ohm))
    return (*found, *_reference_branches(part, supply, earth))


def _gate(kind: str, where: str, prior: float, act: str) -> FaultMode:
    return FaultMode(
        kind, prior,
        lambda part, item, ohms: (Override(f"{where}:{part.id}.{item}", act),),
        items=f"{where}s",
    )


def _driver(kind: str, prior: float, act: str) -> FaultMode:
    return FaultMode(kind, prior,
                     lambda part, item, ohms: (Override(f"{part.id}.{item}", act),),
                     items="outputs")


KIND = Kind(
    name="controller",
    model=ControllerModel,
    pins=_pins,
    values=_values,
    symbol="controller",
    default_price=600.0,
    fit_min=45.0,
    branches=_branches,
    fault_modes=(
        FaultMode("dead", 0.003, lambda part, item, ohms: (
            Override(f"alive:{part.id}", "off"),)),
        _driver("driver-dead", 0.006, "open"),
        _driver("driver-stuck-on", 0.002, "closed"),
        FaultMode("reference-dead", 0.003,
                  lambda part, item, ohms: (Override(f"{part.id}.{item}", "open"),),
                  items="references"),
        _gate("input-dead", "input", 0.003, "off"),
        _gate("input-stuck-on", "input", 0.002, "on"),
    ),
)
