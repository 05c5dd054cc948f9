"""The drawing's style sheet: our own colours, safe for colour-blind eyes, night by variables.

Colours only repeat what words and line styles say: floating is dotted, ends that differ dashed.
"""

from __future__ import annotations

import re

__all__ = ["DRAWING_CSS", "STANDALONE_CSS"]

_DAY = {"ink": "#16181d", "paper": "#fff", "muted": "#4a5260", "live": "#a3470a",
        "volts": "#0b4fb3", "mark": "#8a0a5c"}
_NIGHT = {"ink": "#e8eaee", "paper": "#14171c", "muted": "#aab2bf", "live": "#ffab70",
          "volts": "#8ab8ff", "mark": "#ff8ad0"}
_PRINT = {"ink": "#000", "paper": "#fff", "muted": "#333", "live": "#7a3300",
          "volts": "#003a8c", "mark": "#6a0046"}

_RULES = """
.circuit{color:var(--ink);background:var(--paper)}
.circuit text{fill:currentColor;stroke:none;font-size:12.5px}
.circuit .line{fill:none;stroke:currentColor;stroke-width:1.8}
.circuit .solid,.circuit .dot{fill:currentColor}
.circuit .rail .line{stroke-width:4}
.circuit .name,.circuit text.title,.circuit text.letter{font-weight:700}
.circuit text.title{font-size:15px}
.circuit text.letter{font-size:16px}
.circuit .note,.circuit .pin-number,.circuit text.track{fill:var(--muted)}
.circuit .doing{font-style:italic}
.circuit text.volts{fill:var(--volts);font-weight:700}
.circuit .ring{fill:var(--paper);stroke:var(--volts);stroke-width:2}
.circuit .open-end{fill:var(--paper);stroke:currentColor;stroke-width:1.8}
.circuit .link{fill:none;stroke:currentColor;stroke-width:1.3;stroke-dasharray:5 4}
.circuit .live>.line,.circuit .live>.dot{stroke:var(--live)}
.circuit .live>.dot{fill:var(--live)}
.circuit .floating>.line{stroke-dasharray:2 4}
.circuit .broken>.line{stroke-dasharray:9 4}
.circuit .carrying>.line{stroke-width:3.4}
.circuit .suspect>.line,.circuit .suspect>g>.line{stroke:var(--mark);stroke-width:3}
.circuit .suspect>text>.name,.circuit .suspect>.name,
.circuit .badge{fill:var(--mark);font-weight:700}
.circuit .mark{fill:none;stroke:var(--mark);stroke-width:2.5}
.circuit .next .mark{stroke-dasharray:4 3}
"""
_SCREEN_RULES = """
.circuit .hit{fill:none;stroke:none;pointer-events:all}
.circuit .point{cursor:pointer;outline:none}
.circuit .point:focus .ring,.circuit .point:hover .ring{stroke-width:5}
.circuit .point:focus-visible .hit{stroke:var(--volts);stroke-width:3}
"""


def _variables(colours: dict[str, str]) -> str:
    return "{" + ";".join(f"--{name}:{value}" for name, value in colours.items()) + "}"


DRAWING_CSS = (
    f".circuit{_variables(_DAY)}{_RULES}{_SCREEN_RULES}"
    "@media (prefers-color-scheme:dark){:root:not([data-theme=day]) .circuit"
    f"{_variables(_NIGHT)}}}\n"
    f"[data-theme=night] .circuit{_variables(_NIGHT)}\n"
    f"@media print{{.circuit,:root:not([data-theme=day]) .circuit,[data-theme=night] .circuit"
    f"{_variables(_PRINT)}}}\n"
)
"""For pages: served as a file, so that a strict content security policy holds."""

STANDALONE_CSS = re.sub(
    r"var\(--(\w+)\)", lambda found: _DAY[found.group(1)], _RULES.strip().replace("\n", "")
)
"""For files and PDF: day colours only and no variables, which few SVG readers know."""
