"""CAN bus as a network of direct current."""

from __future__ import annotations

import pytest

from loomwright.circuit import parse_fault, solve
from loomwright.circuit.batch import Variant, solve_isolated
from loomwright.circuit.model import Circuit, StateResult
from tests.circuit.kinds.benches import bench, fault_shows

STATES = "quiet: {};dominant: {bus held: yes}"


def bus(terminators: int = 2, ohm: float = 120) -> Circuit:
    parts = ["U1: {kind: can node, dominant when: bus held}", "U2: {kind: can node}"]
    wires = ["BAT.+, U1.+", "U1.-, BAT.-", "BAT.+, U2.+", "U2.-, BAT.-", "U1.H, U2.H",
             "U1.L, U2.L"]
    for number in range(terminators):
        name = f"T{number}"
        parts.append(f"{name}: {{kind: can terminator, resistance: {ohm} ohm}}")
        node = "U1" if number % 2 == 0 else "U2"
        wires += [f"{node}.H, {name}.1", f"{name}.2, {node}.L"]
    return bench(12, "\n".join(parts), "\n".join(wires), STATES)


def ohms(circuit: Circuit, *faults: str) -> float:
    variant = Variant(tuple(parse_fault(circuit, one) for one in faults))
    return float(solve_isolated(circuit, (variant,), [("U1.H", "U1.L")])[0, 0])


def volts(found: StateResult) -> tuple[float, float]:
    return found.points["U2.H"].volts, found.points["U2.L"].volts


def faulty(fault: str, state: str = "quiet") -> tuple[float, float]:
    circuit = bus()
    return volts(solve(circuit.with_faults([parse_fault(circuit, fault)]), state))


def test_the_unpowered_bus_has_sixty_ohm() -> None:
    # two of 120 ohm in parallel: 60; one missing 120; one more 40 (source S48, published)
    assert ohms(bus(2)) == pytest.approx(60, rel=1e-4)
    assert ohms(bus(1)) == pytest.approx(120, rel=1e-4)
    assert ohms(bus(3)) == pytest.approx(40, rel=1e-4)
    assert ohms(bus(2), "open:T1") == pytest.approx(120, rel=1e-4)
    assert ohms(bus(2), "open:W5") == pytest.approx(120, rel=1e-4)  # beyond the break: the other
    assert ohms(bus(2), "shorted:U2") < 1.0


def test_a_node_may_hold_its_terminator() -> None:
    parts = ("U1: {kind: can node, terminated: yes}\nU2: {kind: can node, terminated: yes}\n"
             "U3: {kind: can node}")
    wires = ("BAT.+, U1.+\nU1.-, BAT.-\nU1.H, U2.H\nU1.L, U2.L\nU2.-, BAT.-\nU2.+, BAT.+\n"
             "U3.H, U2.H\nU3.L, U2.L\nU3.+, BAT.+\nU3.-, BAT.-")
    circuit = bench(12, parts, wires)
    assert ohms(circuit) == pytest.approx(60, rel=1e-4)
    assert ohms(circuit, "open:U1.terminator") == pytest.approx(120, rel=1e-4)
    assert "terminator_ohm" in circuit.parts["U1"].assumed
    shows = fault_shows(circuit, "U1")
    assert "ohms" in shows["open:U1.terminator"]


def test_recessive_volts_are_as_published() -> None:
    high, low = volts(solve(bus(), "quiet"))
    # both 2.0 to 3.0 V, difference -0.12 to 0.012 V at 60 ohm (S46, S47, published)
    assert 2.0 <= low <= 3.0
    assert 2.0 <= high <= 3.0
    assert -0.12 <= high - low <= 0.012


@pytest.mark.parametrize(("load_ohm", "least", "most"), [
    (50, 1.5, 3.0), (60, 1.5, 3.0), (65, 1.5, 3.0), (45, 1.4, 3.0), (70, 1.4, 3.0),
    (2240, 1.5, 5.0)])
def test_dominant_volts_are_as_published(load_ohm: float, least: float, most: float) -> None:
    high, low = volts(solve(bus(2, 2 * load_ohm), "dominant"))
    assert least <= high - low <= most  # source S46
    if 50 <= load_ohm <= 65:
        assert 2.75 <= high <= 4.5
        assert 0.5 <= low <= 2.25


def test_dominant_volts_by_hand() -> None:
    high, low = volts(solve(bus(), "dominant"))
    # 5 V over 45 + 60 + 45 ohm: 33.3 mA, so 2.0 V between the wires, 3.5 and 1.5 V; the bias of
    # 30 kohm moves them by under 5 mV
    assert high - low == pytest.approx(2.0, abs=0.005)
    assert (high, low) == pytest.approx((3.5, 1.5), abs=0.005)


def test_less_load_gives_more_difference() -> None:
    apart = [a - b for a, b in (volts(solve(bus(2, ohm), "dominant")) for ohm in (60, 120, 240))]
    assert apart == sorted(apart)


def test_shorts_read_as_they_do_on_a_vehicle() -> None:
    high, low = faulty("short-to-earth:W5")
    assert high < 0.1
    assert low < 0.1  # through the terminators
    high, low = faulty("short-to-supply:W6")
    assert low > 11.9
    assert high > 11.9
    high, low = faulty("shorted:U2", "dominant")
    assert high - low < 0.1
    high, low = faulty("stuck-dominant:U1")
    assert high - low == pytest.approx(2.0, abs=0.01)


def test_without_supply_there_is_no_bias() -> None:
    circuit = bus()
    off = [parse_fault(circuit, one) for one in ("open:W1", "open:W3")]
    high, low = volts(solve(circuit.with_faults(off), "dominant"))
    assert abs(high) < 0.1
    assert abs(low) < 0.1


def test_every_fault_shows() -> None:
    assert all("ohms" in how for how in fault_shows(bus(), "T0").values())
    shows = fault_shows(bus(), "U1")
    assert set(shows) == {"dead:U1", "stuck-dominant:U1", "shorted:U1"}
    assert all(how & {"volts", "amps", "ohms"} for how in shows.values())
