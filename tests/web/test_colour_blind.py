"""Colours that part good from bad stay apart for people who see two kinds of colour only.

They never stand alone (words, dots and dashes say the same), so that this is a help, not the help.
"""

from __future__ import annotations

import itertools
import math
import re

import pytest

from loomwright.circuit.drawing import DRAWING_CSS
from tests.web.test_look import DAY, NIGHT

# Linear RGB as seen without one sort of cone: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes,
# "A physiologically-based model for simulation of color vision deficiency", 2009, severity 1;
# the numbers from memory.
SEEN = {
    "no red": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216),
               (-0.003882, -0.048116, 1.051998)),
    "no green": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413),
                 (-0.011820, 0.042940, 0.968881)),
    "no blue": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602),
                (0.004733, 0.691367, 0.303900)),
}
# CIE 1976 distance: 2.3 is just noticed side by side; four times that across a page (our choice).
APART = 4 * 2.3
WHITE = (0.95047, 1.0, 1.08883)  # D65
TO_XYZ = ((0.4124564, 0.3575761, 0.1804375), (0.2126729, 0.7151522, 0.0721750),
          (0.0193339, 0.1191920, 0.9503041))


def times(rows: tuple[tuple[float, ...], ...], vector: list[float]) -> list[float]:
    """Return a matrix times a vector."""
    return [sum(a * b for a, b in zip(row, vector, strict=True)) for row in rows]


def lab(colour: str, seen: tuple[tuple[float, ...], ...]) -> list[float]:
    """Return lightness and two colour axes of a colour as it is seen."""
    long = "#" + "".join(2 * one for one in colour[1:]) if len(colour) == 4 else colour
    channels = [int(long[at: at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    inside = [min(max(one, 0.0), 1.0) for one in times(seen, linear)]
    x, y, z = (one / white for one, white in zip(times(TO_XYZ, inside), WHITE, strict=True))
    f = [one ** (1 / 3) if one > 0.008856 else 7.787 * one + 16 / 116 for one in (x, y, z)]
    return [116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])]


def drawn(selector: str) -> dict[str, str]:
    """Return the colours of the drawing behind a selector of its style sheet."""
    start = DRAWING_CSS.index(selector)
    return dict(re.findall(r"--(\w+):(#[0-9a-f]{3,6})", DRAWING_CSS[start: DRAWING_CSS.index(
        "}", start)]))


PAGES = [{name: palette[name] for name in ("good", "bad", "act")} for palette in (DAY, NIGHT)]
DRAWINGS = [{name: palette[name] for name in ("ink", "live", "volts", "mark")}
            for palette in (drawn(".circuit{"), drawn("[data-theme=night] .circuit{"))]


@pytest.mark.parametrize("seen", SEEN)
@pytest.mark.parametrize("palette", [*PAGES, *DRAWINGS],
                         ids=["page day", "page night", "drawing day", "drawing night"])
def test_what_means_something_else_looks_different(palette: dict[str, str], seen: str) -> None:
    assert all(sum(row) == pytest.approx(1, abs=1e-5) for row in SEEN[seen])  # white stays white
    near = {(one, two): apart for one, two in itertools.combinations(palette, 2)
            if (apart := math.dist(lab(palette[one], SEEN[seen]), lab(palette[two], SEEN[seen])))
            < APART}
    assert near == {}
