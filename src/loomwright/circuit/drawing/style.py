"""The drawing's style sheet: our own colours, safe for colour-blind eyes, night by variables.

Colours only repeat what words and line styles say: floating is dotted, ends that differ dashed.
"""

from __future__ import annotations

__all__ = ["DRAWING_CSS"]

DRAWING_CSS = """
.circuit{--ink:#16181d;--paper:#fff;--muted:#4a5260;--live:#a3470a;--volts:#0b4fb3;--mark:#8a0a5c;
color:var(--ink);background:var(--paper)}
.circuit text{fill:currentColor;font-size:12.5px}
.circuit .line{fill:none;stroke:currentColor;stroke-width:1.8}
.circuit .solid,.circuit .dot{fill:currentColor}
.circuit .rail .line{stroke-width:4}
.circuit .name,.circuit .title,.circuit .letter{font-weight:700}
.circuit .title{font-size:15px}.circuit .letter{font-size:16px}
.circuit .note,.circuit .pin-number,.circuit .track{fill:var(--muted)}
.circuit .doing{font-style:italic}
.circuit .volts{fill:var(--volts);font-weight:700}
.circuit .ring{fill:var(--paper);stroke:var(--volts);stroke-width:2}
.circuit .open-end{fill:var(--paper);stroke:currentColor;stroke-width:1.8}
.circuit .link{fill:none;stroke:currentColor;stroke-width:1.3;stroke-dasharray:5 4}
.circuit .live>.line,.circuit .live>.dot{stroke:var(--live)}.circuit .live>.dot{fill:var(--live)}
.circuit .floating>.line{stroke-dasharray:2 4}
.circuit .broken>.line{stroke-dasharray:9 4}
.circuit .carrying>.line{stroke-width:3.4}
.circuit .suspect>.line,.circuit .suspect>g>.line{stroke:var(--mark);stroke-width:3}
.circuit .suspect>text .name,.circuit .badge{fill:var(--mark);font-weight:700}
.circuit .mark{fill:none;stroke:var(--mark);stroke-width:2.5}
.circuit .next .mark{stroke-dasharray:4 3}
.circuit .hit{fill:none;pointer-events:all}
.circuit .point{cursor:pointer;outline:none}
.circuit .point:focus .ring,.circuit .point:hover .ring{stroke-width:5}
.circuit .point:focus-visible .hit{stroke:var(--volts);stroke-width:3}
@media (prefers-color-scheme:dark){:root:not([data-theme=day]) .circuit:not(.paper){--ink:#e8eaee;
--paper:#14171c;--muted:#aab2bf;--live:#ffab70;--volts:#8ab8ff;--mark:#ff8ad0}}
[data-theme=night] .circuit{--ink:#e8eaee;--paper:#14171c;--muted:#aab2bf;--live:#ffab70;
--volts:#8ab8ff;--mark:#ff8ad0}
@media print{.circuit,[data-theme=night] .circuit{--ink:#000;--paper:#fff;--muted:#333;
--live:#7a3300;--volts:#003a8c;--mark:#6a0046}}
""".replace("\n", "")
