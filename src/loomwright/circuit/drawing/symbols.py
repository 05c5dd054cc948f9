"""Symbols in the style of IEC 60617, drawn by us in a vertical two-terminal frame.

Each is centred on 0,0 with its own leads inside y = -32..32, first pin on top, in the text colour.
"""

from __future__ import annotations

__all__ = ["HEIGHT", "symbol"]

HEIGHT = 32.0  # from the centre to each terminal


def _path(d: str, css: str = "line") -> str:
    return f'<path class="{css}" d="{d}"/>'


def _box(half_width: float, half_height: float) -> str:
    return (f'<rect class="line" x="{-half_width:g}" y="{-half_height:g}" '
            f'width="{2 * half_width:g}" height="{2 * half_height:g}"/>')


def _circle(radius: float) -> str:
    return f'<circle class="line" r="{radius:g}"/>'


def _letter(text: str) -> str:
    return ('<text class="letter" fill="currentColor" stroke="none" font-weight="700" '
            f'y="5.5" text-anchor="middle" font-size="16">{text}</text>')


_CONTACT = _path("M0-32V-13M0 32V11L-12-14")
_RESISTOR = _path("M0-32V-15M0 15V32") + _box(6.5, 15)
_SYMBOLS: dict[str, tuple[str, float]] = {
    # name: (drawing, where the leads begin)
    "fuse": (_path("M0-32V32") + _box(6.5, 15), 15),
    "switch": (_CONTACT, 13),
    "contact": (_CONTACT, 13),
    "selector": (_CONTACT, 13),  # one of two pins only; others are boxes
    "lamp": (_path("M0-32V-14M0 14V32M-9.9-9.9L9.9 9.9M9.9-9.9L-9.9 9.9") + _circle(14), 14),
    "motor": (_path("M0-32V-15M0 15V32") + _circle(15) + _letter("M"), 15),
    "coil": (_path("M0-32V-11M0 11V32M-9 11L9-11") + _box(19, 11), 11),
    "solenoid": (
        _path("M0-32V-11M0 11V32") + _box(19, 11) + _path("M19 0H26M26-7L40 7V-7L26 7Z"), 11,
    ),
    "resistor": (_RESISTOR, 15),
    "can terminator": (_RESISTOR, 15),
    "sender": (_RESISTOR + _path("M-12 13L12-13M5-12L12-13L11-6"), 15),
    "thermistor": (_RESISTOR + _path("M-13 13H-8L12-13"), 15),
    "capacitor": (_path("M0-32V-4M0 4V32M-13-4H13M-13 4H13"), 4),
    "fusible link": (_path("M0-32V-15C9-10 9-5 0 0S-9 10 0 15V32M-4-15H4M-4 15H4"), 15),
    "circuit breaker": (_CONTACT + _path("M-4-17L4-9M4-17L-4-9"), 13),
    "led lamp": (
        _path("M0-32V32M-9-8H9L0 8ZM-9 8H9M6-1L13-7M9-8L13-7L13-3M7 6L13 0M9-1L13 0L13 4"), 9,
    ),
    "magneto": (_path("M0-32V-15M0 15V32") + _circle(15) + _letter("G"), 15),
    "heater": (
        _path("M0-32V-15M0 15V32M-9-7.5H9M-9 0H9M-9 7.5H9") + _box(9, 15), 15,
    ),
    "horn": (
        _path("M0-32V-11M0 11V32") + _path("M-14 11V-2A14 13 0 0 1 14-2V11ZM-14 6H14"), 15,
    ),
    "diode": (_path("M0-32V32M-10-8H10L0 9ZM-10 9H10"), 9),
    "battery": (
        _path("M0-32V-10M0 14V32M-17-10H17M-8-2H8M-17 6H17M-8 14H8"), 14,
    ),
    "way": (
        # a socket above its pin: the two mating halves
        _path("M0-32V-6M-7 2A7 7 0 0 1 7 2M0-5V-6M0 2V32")
        + '<path class="solid" fill="currentColor" d="M-2.500 1H2.500V11H-2.500Z"/>', 8,
    ),
}
# These look the same, or are read the same, whichever pin is on top.
_EITHER_WAY = frozenset({
    "motor", "lamp", "fuse", "resistor", "heater", "switch", "contact", "coil", "solenoid",
    "can terminator", "sender", "thermistor", "capacitor", "fusible link", "circuit breaker",
    "magneto", "selector",
})
_PLAIN = (_path("M0-32V-13M0 13V32") + _box(13, 13), 13.0)


def symbol(kind: str, turned: bool) -> str:
    """Return the SVG of a symbol; turned upside down where the second pin is on top."""
    drawing = _SYMBOLS.get(kind, _PLAIN)[0]
    if not turned or kind in _EITHER_WAY:
        return drawing
    return f'<g transform="scale(1 -1)">{drawing}</g>'
