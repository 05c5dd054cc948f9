"""Sizes of the words of a drawing, before any browser sees them."""

from __future__ import annotations

from collections.abc import Mapping

from loomwright.circuit.model import Part, StateResult, Wire

__all__ = [
    "FONT", "TEXT_PX", "amps_text", "part_lines", "shorten", "text_width",
    "volts_text", "wire_lines",
]

TEXT_PX = 12.5
FONT = "DejaVu Sans, Verdana, Liberation Sans, Arial, sans-serif"
_WIDE, _NARROW = "mwMW@%Ω", "iIjlt.,:;'|/()[] fr1-"  # measured on DejaVu Sans, rounded up
_LONGEST = 19  # characters of a label; the whole text stands in the hover title


def text_width(text: str, bold: bool = False) -> float:
    """Return an upper estimate of a text's width [px] at the drawing's size, DejaVu Sans."""
    ems = sum(
        0.98 if c in _WIDE else 0.64 if c == "1" else 0.42 if c in _NARROW
        else 0.76 if c.isupper() else 0.645
        for c in text
    )
    return ems * TEXT_PX * (1.1 if bold else 1.0)


def shorten(text: str, longest: int = _LONGEST) -> str:
    """Return a text of bounded length, with an ellipsis where it was cut."""
    return text if len(text) <= longest else f"{text[: longest - 1].rstrip()}…"


def _number(value: float) -> str:
    return f"{value:.3g}" if abs(value) < 1000 else f"{value:.0f}"


_VALUES: Mapping[str, tuple[tuple[str, str], ...]] = {
    "fuse": (("rating_a", "A"),),
    "lamp": (("power_w", "W"),),
    "heater": (("power_w", "W"),),
    "resistor": (("resistance_ohm", "Ω"),),
    "solenoid": (("resistance_ohm", "Ω"),),
    "battery": (("emf_v", "V"),),
}


def part_lines(part: Part) -> tuple[str, str]:
    """Return the two lines beside a part: id with its value (only if given), and its label."""
    values = [
        f"{_number(part.number(key))} {unit}"
        for key, unit in _VALUES.get(part.kind, ())
        if key in part.params and key not in part.assumed
    ]
    return " ".join([shorten(part.id, 12), *values]), shorten(part.label)


def wire_lines(wire: Wire) -> tuple[str, str]:
    """Return the two lines beside a wire: its id, then area [mm2] and colour if they are known."""
    words = [] if "area_mm2" in wire.assumed else [_number(wire.area_mm2)]
    return shorten(wire.id, 12), shorten(" ".join([*words, wire.colour]).strip())


def volts_text(result: StateResult | None, point: str) -> str:
    """Return what to write at a point: volts, 'float' where nothing holds it, '' if not solved."""
    reading = result.points.get(point) if result else None
    if reading is None:
        return ""
    if reading.floating:
        return "float"
    digits = 1 if abs(reading.volts) >= 1 else 2
    text = f"{reading.volts:.{digits}f}"
    return f"{text.lstrip('-') if float(text) == 0 else text.replace('-', '−')} V"


def amps_text(amps: float) -> str:
    """Return a current with three figures, in A or mA."""
    if abs(amps) >= 1:
        return f"{abs(amps):.3g} A"
    return f"{abs(amps) * 1000:.3g} mA" if abs(amps) >= 5e-6 else "0 A"
