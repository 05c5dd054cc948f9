"""Resistance of copper vehicle wire by size and temperature."""

from __future__ import annotations

import bisect
import functools

from loomwright.data.tables import table
from loomwright.errors import QuantityError

__all__ = ["wire_ohm_per_m", "wire_source_text"]

SMALLEST_MM2 = 0.05
LARGEST_MM2 = 500.0
COLDEST_C = -60.0
HOTTEST_C = 250.0
# IEC 60228 gives kt = 1 / (1 + 0.004 (t - 20)); 0.00393 is the constant of annealed copper, 0.3 %
# away at 70 degC. The standard's own figure is kept, since its resistances go with it.
IEC_PER_KELVIN = 0.004


def wire_ohm_per_m(area_mm2: float, temperature_c: float = 20.0) -> float:
    """Return the resistance of copper wire, by the table of its size and the IEC 60228 rule.

    The table is ISO 6722 (thin-wall vehicle wire) for the sizes published there, else IEC 60228
    class 5 plain copper. Both give the maximum for new wire. Between two sizes the product of
    resistance and area, which hardly changes with size, is interpolated.

    Parameters
        area_mm2: nominal cross-section [mm2], 0.05 to 500
        temperature_c: of the conductor [degC], -60 to 250
    Returns
        float: resistance of one conductor [ohm/m]
    Raises
        QuantityError: a size or temperature outside its range
    Validity
        sizes 0.35 to 240 mm2; beyond, the product of the nearest size is kept. The temperature
        rule is tabulated from 5 to 100 degC; copper keeps to it well from -60 to 250 degC.
    Source
        S03 (ISO 6722), S01 and S02 (IEC 60228 resistances), S01 (temperature factor kt)
    """
    _check("wire size", area_mm2, SMALLEST_MM2, LARGEST_MM2, "mm2")
    _check("wire temperature", temperature_c, COLDEST_C, HOTTEST_C, "degC")
    low, high = _neighbours(area_mm2)
    (low_mm2, low_ohm, _), (high_mm2, high_ohm, _) = low, high
    product = low_mm2 * low_ohm
    if high_mm2 > low_mm2:
        share = (area_mm2 - low_mm2) / (high_mm2 - low_mm2)
        product += share * (high_mm2 * high_ohm - product)
    return product / area_mm2 * (1 + IEC_PER_KELVIN * (temperature_c - 20))


def wire_source_text(area_mm2: float) -> str:
    """Return where the resistance of a wire size comes from, in words for people.

    Parameters
        area_mm2: nominal cross-section [mm2], 0.05 to 500
    Raises
        QuantityError: a size outside its range
    """
    _check("wire size", area_mm2, SMALLEST_MM2, LARGEST_MM2, "mm2")
    (low_mm2, _, low_text), (high_mm2, _, high_text) = _neighbours(area_mm2)
    if low_mm2 < area_mm2 < high_mm2:
        return f"between {low_mm2:g} mm2 ({low_text}) and {high_mm2:g} mm2 ({high_text})"
    if area_mm2 != low_mm2:
        return f"scaled by area from {low_mm2:g} mm2 ({low_text}), outside the table"
    return low_text


def _check(what: str, value: float, least: float, most: float, unit: str) -> None:
    """Refuse a value outside its range; also refuses what is not a number."""
    if not least <= value <= most:
        raise QuantityError(
            f"A {what} of {value:g} {unit} is outside {least:g} to {most:g} {unit}.",
            next_step="Check the figure and its unit.",
        )


_Size = tuple[float, float, str]


@functools.cache
def _sizes() -> tuple[_Size, ...]:
    """Return area [mm2], resistance at 20 degC [ohm/m] and source text, by growing area."""
    found: dict[float, _Size] = {}
    for row in table("conductor_iec60228").rows:
        if row["conductor_class"] == "5" and row["material"] == "plain copper":
            area = float(row["area_mm2"])
            text = f"IEC 60228 class 5, {row['source']}"
            found[area] = (area, float(row["max_ohm_per_km"]) / 1000, text)
    for row in table("conductor_iso6722_flry").rows:
        if row["grade"] == "published":
            area = float(row["area_mm2"])
            found[area] = (area, float(row["max_ohm_per_km"]) / 1000, f"ISO 6722, {row['source']}")
    return tuple(sorted(found.values()))


def _neighbours(area_mm2: float) -> tuple[_Size, _Size]:
    """Return the table sizes on both sides; one of them twice, at a table size or past an end."""
    sizes = _sizes()
    place = bisect.bisect_left([size[0] for size in sizes], area_mm2)
    if place == len(sizes):
        return sizes[-1], sizes[-1]
    if place == 0 or sizes[place][0] == area_mm2:
        return sizes[place], sizes[place]
    return sizes[place - 1], sizes[place]
