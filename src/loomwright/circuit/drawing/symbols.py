"""Symbols in the style of IEC 60617, drawn by us in a vertical two-terminal frame.

Each is centred on 0,0 with its own leads inside y = -32..32, first pin on top, in the text colour.
"""

from __future__ import annotations

__all__ = ["EMBLEM_PX", "HEIGHT", "emblem", "symbol"]

HEIGHT = 32.0  # from the centre to each terminal
EMBLEM_PX = 40.0  # side of the square an emblem stays in


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
# It rests closed: the blade lies across the fixed contact, which has a foot.
_BREAK = _path("M0-32V-13H9M0 32V11L7-15")
_RESISTOR = _path("M0-32V-15M0 15V32") + _box(6.5, 15)
_SYMBOLS: dict[str, tuple[str, float]] = {
    # name: (drawing, where the leads begin)
    "fuse": (_path("M0-32V32") + _box(6.5, 15), 15),
    "switch": (_CONTACT, 13),
    "contact": (_CONTACT, 13),
    "break contact": (_BREAK, 13),
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
    "motor", "lamp", "fuse", "resistor", "heater", "switch", "contact", "break contact",
    "coil", "solenoid",
    "can terminator", "sender", "thermistor", "capacitor", "fusible link", "circuit breaker",
    "magneto", "selector",
})
_TILDE = "q3-6 6 0t6 0"
_EMBLEMS: dict[str, str] = {
    # What a part of many pins does, without leads: its pins are on its frame.
    "starter": _circle(15) + _letter("M") + _path("M-20 19H20M-20 19V15M20 19V15"),
    "alternator": _circle(17) + (
        '<text class="letter" fill="currentColor" stroke="none" font-weight="700" y="0" '
        'text-anchor="middle" font-size="14">G</text>'
    ) + _path("M-8 8H-3M8 8H4M-3 4L4 8L-3 12ZM4 4V12"),
    "stator": _path("M0-3V-6A4 4 0 0 1 0-13V-17M0-3L-5 0A4 4 0 0 0-11 5L-16 9"
                    "M0-3L5 0A4 4 0 0 1 11 5L16 9") + _path(f"M-6 16{_TILDE}"),
    "regulator rectifier": _box(17, 17) + _path("M-17 17L17-17") + _path(f"M-14-7{_TILDE}")
    + _path("M3 6H13M3 10H13"),
    "dc-dc converter": _box(17, 17) + _path("M-17 17L17-17M-14-10H-4M-14-6H-4M4 6H14M4 10H14"),
    "sensor": _path("M-15 0L0-15L15 0L0 15ZM-5 4C-2-9 2 9 5-4"),
    "proximity switch": _path("M0-17L17 0L0 17L-17 0ZM-5-6V6M5-6V6"),
    "can node": _box(17, 12) + _path("M-11-4H11M-11 4H11M7-8L11-4L7 0M-7 0L-11 4L-7 8"),
    "controller": _box(17, 12) + _path("M-17 0H17M-9-12V-17M0-12V-17M9-12V-17"
                                       "M-9 12V17M0 12V17M9 12V17"),
    "latching relay": _box(17, 10) + _path("M-8 10L8-10M0-10V10"),
    "selector": _circle(2.5) + _path("M0-2.500L9-13M-13-9L-11-8M-4-14L-3-12M13-9L11-8M0 3V15"),
    "magneto": _circle(15) + _letter("G"),
}
_PLAIN = (_path("M0-32V-13M0 13V32") + _box(13, 13), 13.0)


def symbol(kind: str, turned: bool) -> str:
    """Return the SVG of a symbol; turned upside down where the second pin is on top."""
    drawing = _SYMBOLS.get(kind, _PLAIN)[0]
    if not turned or kind in _EITHER_WAY:
        return drawing
    return f'<g transform="scale(1 -1)">{drawing}</g>'


def emblem(kind: str) -> str:
    """Return the SVG of what a part of many pins does, centred on 0,0; '' for an unknown kind."""
    return _EMBLEMS.get(kind, "")
