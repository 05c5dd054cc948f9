"""Laws that wire resistance keeps at every size and temperature."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.data import wire_ohm_per_m

pytestmark = pytest.mark.property
areas = st.floats(0.05, 500)
temperatures = st.floats(-60, 250)


@given(areas, areas, temperatures)
def test_thicker_wire_never_resists_more(one: float, other: float, temperature_c: float) -> None:
    thin, thick = sorted((one, other))
    # 1e-12: rounding of two nearly equal sizes.
    assert wire_ohm_per_m(thick, temperature_c) <= wire_ohm_per_m(thin, temperature_c) * (1 + 1e-12)


@given(areas, temperatures, temperatures)
def test_hotter_wire_never_resists_less(area_mm2: float, one: float, other: float) -> None:
    cold, hot = sorted((one, other))
    assert 0 < wire_ohm_per_m(area_mm2, cold) <= wire_ohm_per_m(area_mm2, hot)
