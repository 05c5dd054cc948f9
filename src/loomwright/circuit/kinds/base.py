"""What every kind of part offers: its keys in the file, its pins and its values."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

from loomwright.circuit.branches import Branch, FaultMode, Plunger
from loomwright.circuit.expressions import Expression, ExpressionError, parse_expression
from loomwright.circuit.model import ParamValue, Part
from loomwright.errors import QuantityError
from loomwright.units import parse_quantity

__all__ = [
    "RANGES", "TWO_PINS", "Amps", "Kind", "Metres", "Minutes", "Ohms", "PartModel", "PinName",
    "Places", "Rule", "Seconds", "SquareMillimetres", "Volts", "Watts", "positive_quantity",
    "with_defaults",
]

# What a part of a vehicle can have, with room to spare: beyond it is a slip of the keyboard, and
# numbers of such a size would spoil the solution. Assumed.
RANGES: dict[str, tuple[float, float]] = {
    "V": (1e-3, 1e4), "A": (1e-7, 1e5), "ohm": (1e-9, 1e15), "W": (1e-4, 1e6),
    "mm2": (0.01, 1e3), "m": (1e-4, 1e3), "min": (1e-3, 1e5), "s": (1e-3, 1e6),
}


def positive_quantity(unit: str) -> BeforeValidator:
    """Return a validator that reads a quantity > 0 in the unit; a bare number is refused."""
    low, high = RANGES.get(unit, (0.0, float("inf")))

    def read(text: Any) -> float:
        try:
            value = parse_quantity(text, unit)
        except QuantityError as error:
            # pydantic reports ValueError with the place in the file
            raise ValueError(str(error)) from error
        if value <= 0:
            raise ValueError(f"'{text}' must be greater than 0 {unit}.")
        if not low <= value <= high:
            raise ValueError(f"'{text}' is out of range.") from QuantityError(
                f"'{text}' is out of range.",
                next_step=f"It must be between {low:g} and {high:g} {unit}.")
        return value

    return BeforeValidator(read)


def _schema(unit: str, example: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "description": f"in {unit}", "examples": [example]})


Volts = Annotated[float, positive_quantity("V"), _schema("V", "24 V")]
Amps = Annotated[float, positive_quantity("A"), _schema("A", "10 A")]
Ohms = Annotated[float, positive_quantity("ohm"), _schema("ohm", "24 ohm")]
Watts = Annotated[float, positive_quantity("W"), _schema("W", "21 W")]
SquareMillimetres = Annotated[float, positive_quantity("mm2"), _schema("mm2", "2.5 mm2")]
Metres = Annotated[float, positive_quantity("m"), _schema("m", "1.8 m")]
Seconds = Annotated[float, positive_quantity("s"), _schema("s", "30 s")]
Minutes = Annotated[float, positive_quantity("min"), _schema("min", "3 min")]


def _read_rule(text: Any) -> Expression:
    """Read a rule; pydantic wants a ValueError to report it at its place in the file."""
    if isinstance(text, Expression):
        return text
    if isinstance(text, bool):
        return Expression("true") if text else Expression("not", (Expression("true"),))
    try:
        return parse_expression(str(text))
    except ExpressionError as error:
        raise ValueError(str(error)) from error


Rule = Annotated[
    Expression,
    BeforeValidator(_read_rule),
    WithJsonSchema({"type": "string", "examples": ["ignition and not moving"]}),
]


def _one_or_more(value: Any) -> Any:
    """Return a text as a list of it."""
    return [value] if isinstance(value, str) else value


Places = Annotated[
    tuple[str, ...],
    BeforeValidator(_one_or_more),
    WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}],
                    "examples": [["seat", "cab panel"]]}),
]
PinName = Annotated[
    str, BeforeValidator(str), WithJsonSchema({"type": ["string", "integer"], "examples": [31]})
]
TWO_PINS = ("1", "2")


def with_defaults(
    given: Mapping[str, ParamValue], defaults: Mapping[str, ParamValue]
) -> tuple[dict[str, ParamValue], frozenset[str]]:
    """Return the values with defaults where None was given, and the names of those assumed."""
    assumed = frozenset(key for key in defaults if given.get(key) is None)
    return {**given, **{key: defaults[key] for key in assumed}}, assumed


class PartModel(BaseModel):
    """Keys every part may have. File keys are the field names with spaces for underscores."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, alias_generator=lambda name: name.replace("_", " "),
        validate_by_name=False, validate_by_alias=True,
    )

    kind: str
    place: str = ""
    seen_from: Places = ()  # other places from where one sees what it does
    label: str = ""
    price: float = Field(default=0.0, ge=0)  # money
    fit: Minutes | None = None  # minutes to replace


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of part: its keys, pins, values, electrical branches and faults.

    `values(model, system_v)` returns params with SI keys (`resistance_ohm`) and the names of those
    that came from defaults. `branches(part, system_v)` is its electrical law. `default_price`
    in money and `fit_min` serve where the file gives none. `plungers(part)` are what moves in it,
    `opens_above(part)` the amps at which its main branch opens for good (a fuse), and
    `quantities(part)` the words of a state that stand for a quantity, with their units. `metered`
    gives pairs of pins worth a meter's two leads, where a part has more than two pins. `strikes`
    says that an armature is heard when it moves, `turns` that a hand can turn what it drives.
    """

    name: str
    model: type[PartModel]
    pins: Callable[[Any], tuple[str, ...]]
    values: Callable[[Any, float], tuple[Mapping[str, ParamValue], frozenset[str]]]
    symbol: str
    default_price: float = 10.0
    fit_min: float = 10.0
    branches: Callable[[Part, float], tuple[Branch, ...]] = lambda part, system_v: ()
    fault_modes: tuple[FaultMode, ...] = ()
    load: bool = False  # something a user waits for: lamp, solenoid, motor ...
    strikes: bool = False
    turns: bool = False
    plungers: Callable[[Part], tuple[Plunger, ...]] = lambda part: ()
    opens_above: Callable[[Part], float] | None = None
    quantities: Callable[[Part], Mapping[str, str]] = lambda part: {}
    metered: Callable[[Part], tuple[tuple[str, str], ...]] = lambda part: ()
