"""Wire resistance: table sizes, sizes between, temperature, refusals."""

from __future__ import annotations

import math

import pytest

from loomwright.data import wire_ohm_per_m, wire_source_text
from loomwright.errors import QuantityError


def test_published_size_is_used_as_it_stands() -> None:
    assert wire_ohm_per_m(2.5) == pytest.approx(7.60e-3)  # ISO 6722, S03
    assert wire_source_text(2.5) == "ISO 6722, S03"


def test_size_missing_in_iso_6722_comes_from_iec_60228() -> None:
    assert wire_ohm_per_m(35) == pytest.approx(0.554e-3)  # class 5 plain, S01 and S02
    assert wire_source_text(35) == "IEC 60228 class 5, S02;S01"


def test_remembered_size_is_not_used() -> None:
    # The ISO 6722 table holds 10 mm2 with 1.82 ohm/km from memory; IEC's 1.91 is published.
    assert wire_ohm_per_m(10) == pytest.approx(1.91e-3)


def test_size_between_two_sizes_keeps_the_product_of_area_and_resistance() -> None:
    # By hand: 6 mm2 x 3.14 = 18.84, 10 mm2 x 1.91 = 19.10, half way 18.97, over 8 mm2.
    assert wire_ohm_per_m(8) == pytest.approx(18.97e-3 / 8)
    assert wire_source_text(8).startswith("between 6 mm2 (ISO 6722, S03) and 10 mm2 (IEC 60228")


def test_size_outside_the_table_is_scaled_and_said_so() -> None:
    assert wire_ohm_per_m(0.175) == pytest.approx(2 * 54.4e-3)  # half of 0.35 mm2
    assert wire_ohm_per_m(480) == pytest.approx(0.0801e-3 / 2)  # twice 240 mm2
    assert "outside the table" in wire_source_text(0.175)
    assert "outside the table" in wire_source_text(480)


def test_hot_wire_by_hand() -> None:
    # 1 + 0.004 x 60 = 1.24
    assert wire_ohm_per_m(1.5, 80) == pytest.approx(12.7e-3 * 1.24)
    assert wire_ohm_per_m(1.5, -5) == pytest.approx(12.7e-3 * 0.9)


@pytest.mark.parametrize("area_mm2", [0.0, -1.0, 0.049, 500.1, math.nan, math.inf])
def test_impossible_size_is_refused(area_mm2: float) -> None:
    with pytest.raises(QuantityError, match=r"wire size of .* mm2 is outside 0\.05 to 500 mm2"):
        wire_ohm_per_m(area_mm2)
    with pytest.raises(QuantityError, match="wire size"):
        wire_source_text(area_mm2)


@pytest.mark.parametrize("temperature_c", [-60.1, 250.1, math.nan])
def test_impossible_temperature_is_refused(temperature_c: float) -> None:
    with pytest.raises(QuantityError, match=r"wire temperature of .* is outside -60 to 250 degC"):
        wire_ohm_per_m(1.0, temperature_c)
