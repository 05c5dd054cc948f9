"""How long a fuse or fusible link takes to open at a current, where a table or a law says so."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.kinds import KINDS
from loomwright.circuit.laws import BLOW_SHARE
from loomwright.circuit.model import Part
from loomwright.data import table

__all__ = ["FUSE_SERIES", "OpeningTime", "onderdonk_s", "opening_time", "order_s"]

Array = NDArray[np.float64]

# What `type` of a fuse stands for in the table of times.
FUSE_SERIES = {
    "blade": "ISO 8820-3 blade (ATO, mini) as on maker sheets",
    "maxi": "MAXI blade, slow",
    "bolt-down": "MIDI / AMI bolt-down (ISO 8820-5)",
}
_CIRCULAR_MIL_PER_MM2 = 1973.525
_MELTS_C, _AMBIENT_C = 1083.0, 25.0
_LONGEST_MELT_S = 10.0  # longer, the wire sheds its heat and the law does not hold; from memory


@dataclass(frozen=True, slots=True)
class OpeningTime:
    """The least and most seconds to open, the table or law they come from, and its grade.

    `grade` is published, practice or memory, as in the tables of data.
    """

    least_s: float
    most_s: float
    table: str
    grade: str

    @property
    def typical_s(self) -> float:
        """Return the geometric mean of least and most."""
        return math.sqrt(self.least_s * self.most_s)


@dataclass(frozen=True, slots=True, eq=False)
class _Curve:
    """Logarithms of percent of rating, and of the least and most seconds there."""

    percent: Array
    least: Array
    most: Array
    grade: str


@functools.cache
def _curve(series: str) -> _Curve:
    """Return a series of the table, the rows that give both times."""
    rows = [row for row in table("fuse_time_current").rows
            if row["series"] == series and row["least_s"] and row["most_s"]]
    columns = [np.log([float(row[key]) for row in rows])
               for key in ("percent_of_rating", "least_s", "most_s")]
    grades = {row["grade"] for row in rows}
    return _Curve(columns[0], columns[1], columns[2],
                  grades.pop() if len(grades) == 1 else "memory")


def _from_curve(curve: _Curve, share: Array) -> tuple[Array, Array]:
    """Return least and most seconds at shares of the rating, straight between logarithms.

    Beyond the last row the heat that opens it stays the same: t ~ 1/I^2.
    """
    percent = np.log(np.maximum(share, 1e-9) * 100)
    beyond = 2 * np.maximum(percent - curve.percent[-1], 0)
    least = np.exp(np.interp(percent, curve.percent, curve.least) - beyond)
    most = np.exp(np.interp(percent, curve.percent, curve.most) - beyond)
    return least, most


def onderdonk_s(area_mm2: float, amps: float) -> float:
    """Return the seconds in which a current melts a copper wire, by Onderdonk's equation.

    t = A^2 log10((Tm - Ta)/(234 + Ta) + 1) / (33 I^2), A in circular mils, Tm 1083, Ta 25 degC;
    source S16. Valid for bare copper and for times too short to shed heat (some 10 s).
    """
    mils = area_mm2 * _CIRCULAR_MIL_PER_MM2
    rise = math.log10((_MELTS_C - _AMBIENT_C) / (234 + _AMBIENT_C) + 1)
    return mils**2 * rise / (33 * max(amps, 1e-9) ** 2)


def opening_time(part: Part, amps: float) -> OpeningTime | None:
    """Return how long a part that protects takes to open at a current.

    Returns
        OpeningTime | None: None where no table or law says so (breakers, a link that melts slowly)
            or the current does not open it
    """
    opens = KINDS[part.kind].opens_above
    size = abs(amps)
    if opens is None or size <= opens(part):
        return None
    if part.kind == "fusible link":
        melts = onderdonk_s(part.number("area_mm2"), size)
        if melts > _LONGEST_MELT_S:
            return None
        return OpeningTime(melts, melts, "Onderdonk's equation for bare copper", "published")
    series = FUSE_SERIES.get(str(part.params.get("type")))
    if series is None:
        return None
    curve = _curve(series)
    least, most = _from_curve(curve, np.array([size / part.number("rating_a")]))
    return OpeningTime(float(least[0]), float(most[0]), series, curve.grade)


def order_s(part: Part, amps: Array) -> Array:
    """Return the seconds by which parts that protect are put in order, at currents (B,).

    Where no table exists a part counts as a blade fuse that opens at the same current: assumed,
    and good for the order only.
    """
    opens = KINDS[part.kind].opens_above
    most_a = opens(part) if opens is not None else math.inf
    found = [opening_time(part, float(one)) for one in np.abs(amps)]
    curve = _curve(FUSE_SERIES["blade"])
    least, most = _from_curve(curve, np.abs(amps) / most_a * BLOW_SHARE)
    usual = np.sqrt(least * most)
    return np.array([one.typical_s if one else float(other)
                     for one, other in zip(found, usual, strict=True)])
