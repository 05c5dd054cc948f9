"""Published ratios of failure modes split a kind's weight; the weight itself stays assumed."""

from __future__ import annotations

import pytest

from loomwright.circuit.kinds import KINDS
from loomwright.circuit.kinds.shares import shared_out
from loomwright.data import table


def priors(kind: str) -> dict[str, float]:
    return {mode.kind: mode.prior for mode in KINDS[kind].fault_modes}


@pytest.mark.parametrize(("kind", "total"), [
    ("relay", 0.083), ("switch", 0.08), ("diode", 0.02), ("connector", 0.07)])
def test_the_sum_of_a_kind_is_kept(kind: str, total: float):
    # sums before the split, among them 0.003 of a relay's clamp diode; 1e-12: adding order
    assert sum(priors(kind).values()) == pytest.approx(total, rel=1e-12)


def test_the_split_is_the_ratio_of_the_table():
    # ratios attributed to MIL-HDBK-338B; of a relay's fail to trip against short
    relay = priors("relay")
    tripping = relay["coil-open"] + relay["contact-open"] + relay["high-resistance"]
    assert tripping / relay["welded"] == pytest.approx(0.55 / 0.19)
    assert relay["contact-open"] / relay["coil-open"] == pytest.approx(1.5)  # our own, kept
    assert priors("switch")["stuck-open"] / priors("switch")["stuck-closed"] == \
        pytest.approx(0.65 / 0.16)
    assert priors("connector")["open"] / priors("connector")["high-resistance"] == \
        pytest.approx(0.61 / 0.23)
    assert priors("diode")["shorted"] / priors("diode")["open"] == pytest.approx(0.49 / 0.36)


def test_every_fault_says_where_its_weight_comes_from():
    told = {mode.kind: mode.source for mode in KINDS["diode"].fault_modes}
    assert all("second hand (S140), sum assumed" in source for source in told.values())
    relay = {mode.kind: mode.source for mode in KINDS["relay"].fault_modes}
    assert "from memory" in relay["welded"]
    assert all("from memory" in mode.source for mode in KINDS["connector"].fault_modes)
    assert relay["shorted"] == "assumed"  # the clamp diode is no mode of the table
    for kind in ("fuse", "resistor", "capacitor", "lamp"):
        assert {mode.source for mode in KINDS[kind].fault_modes} == {"assumed"}


def test_a_kind_with_one_mode_keeps_its_weight():
    modes = KINDS["fuse"].fault_modes
    assert shared_out("fuse", modes) == modes


def test_every_fault_the_table_names_exists():
    for row in table("failure_modes").rows:
        known = priors(row["part_kind"])
        assert all(kind in known for kind in row["fault_kinds"].split(";") if kind), row
