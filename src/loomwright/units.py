"""Quantities as typed and shown: parsed from text and printed at the edges only."""

from __future__ import annotations

import functools
import math
import re
import unicodedata
from typing import TYPE_CHECKING, Any

from loomwright.errors import QuantityError

if TYPE_CHECKING:
    import pint

__all__ = ["format_predicted", "format_quantity", "parse_quantity"]

_SIMPLE = re.compile(r"^\s*([-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?)\s*(\S.*?)?\s*$")
# What the unit library is given is text from anywhere, and it evaluates powers: one digit at most.
_UNIT_NAME = re.compile(r"(?!.*\d.*\d)[^\W\d_][\w °%²³/*^]{0,23}|°\w+")
# Written as the trade writes and types them, in small letters on a telephone too; a plain unit
# name skips the unit library, which is slow to load.
_FACTORS: dict[str, dict[str, float]] = {
    "V": {"V": 1.0, "mV": 1e-3, "kV": 1e3, "volt": 1.0, "volts": 1.0,
          "v": 1.0, "mv": 1e-3, "Volt": 1.0, "Volts": 1.0},
    "A": {"A": 1.0, "mA": 1e-3, "μA": 1e-6, "uA": 1e-6, "kA": 1e3, "amp": 1.0, "amps": 1.0,
          "a": 1.0, "ma": 1e-3, "Amp": 1.0, "Amps": 1.0},
    "ohm": {"ohm": 1.0, "ohms": 1.0, "Ω": 1.0, "mohm": 1e-3, "mΩ": 1e-3, "kohm": 1e3,
            "kΩ": 1e3, "Mohm": 1e6, "MΩ": 1e6, "Ohm": 1.0, "Ohms": 1.0, "kOhm": 1e3,
            "MOhm": 1e6, "k": 1e3, "M": 1e6},
    "W": {"W": 1.0, "kW": 1e3, "mW": 1e-3},
    "mm2": {"mm2": 1.0, "mm^2": 1.0},
    "m": {"m": 1.0, "cm": 1e-2, "mm": 1e-3},
    "min": {"min": 1.0, "s": 1 / 60, "h": 60.0, "minutes": 1.0},
    "s": {"s": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0, "seconds": 1.0, "minutes": 60.0},
    "degC": {"degC": 1.0, "°C": 1.0, "C": 1.0},
    "rpm": {"rpm": 1.0, "r/min": 1.0, "min-1": 1.0},
    "%": {"%": 1.0, "percent": 1.0},
    "K": {"K": 1.0},
}
_METER_PLACES = {"V": 3, "A": 4}  # decimals of the finest range of a hand meter
_EXAMPLES = {"V": "11.9 V", "A": "10 A", "ohm": "24 ohm", "W": "21 W", "mm2": "2.5 mm2",
             "m": "1.8 m", "min": "3 min", "s": "30 s", "degC": "20 degC", "rpm": "1500 rpm",
             "%": "50 %", "K": "3500 K"}


@functools.cache
def _registry() -> pint.UnitRegistry[Any]:
    """Load the unit library once, only when a unit is not in the short table."""
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


def parse_quantity(text: object, unit: str) -> float:
    """Return a typed quantity as a number in the given unit, by unit conversion.

    Parameters
        text: what was typed, such as '11,9 V'; a bare number is refused
        unit: the unit wanted: V, A, ohm, W, mm2, m, min, degC, rpm, % or K
    Returns
        float: the value in that unit
    Raises
        QuantityError: no number, no unit, or a unit of another kind
    """
    example = _EXAMPLES.get(unit, f"1 {unit}")
    found = _SIMPLE.match(str(text)) if isinstance(text, str | int | float) else None
    if found is None or isinstance(text, bool):
        raise QuantityError(f"'{text}' is not a quantity.", next_step=f"Write it like '{example}'.")
    number = float(found[1].replace(",", "."))
    # One form for the two ohm signs, the two micro signs, and figures set high.
    name = unicodedata.normalize("NFKC", found[2] or "")
    if not name:
        raise QuantityError(
            f"'{text}' has no unit.", next_step=f"Write the unit, like '{example}'."
        )
    factor = _FACTORS.get(unit, {}).get(name)
    value = number * factor if factor is not None else _convert(number, found[2], unit, example)
    if not math.isfinite(value):
        raise QuantityError(f"'{text}' is too large.", next_step=f"Write it like '{example}'.")
    return value


def _convert(number: float, name: str, unit: str, example: str) -> float:
    """Convert through the unit library; an unknown or foreign unit is an error."""
    import pint

    foreign = QuantityError(
        f"'{number:g} {name}' is not in a unit of {unit}.", next_step=f"Write it like '{example}'."
    )
    if not _UNIT_NAME.fullmatch(name):
        raise foreign
    try:
        return float(_registry().Quantity(number, name).to(unit.replace("mm2", "mm**2")).magnitude)
    except (pint.PintError, ArithmeticError, AttributeError, ValueError, TypeError,
            AssertionError) as error:
        raise foreign from error


def format_quantity(value: float, unit: str) -> str:
    """Return a value with its unit in the size a meter would show, such as '38 mV', '1.20 kohm'."""
    if unit not in {"V", "A", "ohm", "W"}:
        return f"{value:.3g} {unit}"
    for limit, factor, prefix in ((1e6, 1e-6, "M"), (1e3, 1e-3, "k"), (0.1, 1.0, "")):
        if abs(value) >= limit and not (unit in {"V", "A"} and factor < 1):
            scaled = value * factor
            places = 0 if abs(scaled) >= 100 else 1 if abs(scaled) >= 10 else 2
            return f"{scaled:.{places}f} {prefix}{unit}"
    if value == 0 or abs(value) < 5e-5:
        return f"0 {unit}"
    return f"{value * 1e3:.3g} m{unit}"


def format_predicted(value: float, unit: str) -> str:
    """Return a computed value as a workshop meter would show it: 0.0815 mV reads '0 V'.

    A reading somebody took is never rounded so; see `format_quantity`. The finest step is 1 mV
    and 0.1 mA, as common hand meters show on their small ranges (from memory).
    """
    places = _METER_PLACES.get(unit)
    fine = places is not None and abs(value) < 0.1
    return format_quantity(round(value, places) if fine else value, unit)
