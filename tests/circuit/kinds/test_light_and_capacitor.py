"""LED lamp and capacitor."""

from __future__ import annotations

import pytest

from loomwright.circuit import read_circuit_text, solve, solve_all
from loomwright.errors import FileProblemsError
from tests.circuit.kinds.benches import bench, fault_shows

LED = "H1: {kind: led lamp, current: 100 mA, forward volts: 6 V}\nF1: {kind: fuse, rating: 5 A}"
RIGHT = "BAT.+, F1.1\nF1.2, H1.1\nH1.2, BAT.-"


def amps(volts: float, wires: str = RIGHT) -> float:
    found = solve(bench(volts, LED, wires), "here").parts["H1"].amps
    assert found is not None
    return found


def test_current_is_what_the_resistor_leaves() -> None:
    # 6 V of diodes and 60 ohm: (12 - 6)/60 = 100 mA, (9 - 6)/60 = 50 mA by hand. The model's diode
    # takes 0.74 to 0.8 V where 0.8 V are reckoned: 1 mA
    assert amps(12) == pytest.approx(0.100, abs=0.0012)
    assert amps(9) == pytest.approx(0.050, abs=0.0012)


def test_below_the_forward_volts_nothing_flows() -> None:
    assert abs(amps(4.5)) < 1e-4
    currents = [amps(volts) for volts in (4, 6, 7, 9, 12, 14)]
    assert currents == sorted(currents)


def test_the_wrong_way_round_it_stays_dark_and_the_fuse_whole() -> None:
    found = solve(bench(12, LED, "BAT.+, F1.1\nF1.2, H1.2\nH1.1, BAT.-"), "here")
    assert found.parts["H1"].doing == "off"
    assert found.parts["F1"].doing == "whole"
    assert abs(found.parts["H1"].amps or 0) < 1e-6


def test_it_is_dim_on_low_volts() -> None:
    doing = [solve(bench(v, LED, RIGHT), "here").parts["H1"].doing for v in (5, 7.5, 12)]
    assert doing == ["off", "dim", "on"]


def test_leakage_lights_it_where_a_filament_stays_dark() -> None:
    # 1 kohm in the feed: a 21 W lamp sees next to nothing, light diodes of 20 mA glow at 5 mA
    feed = "\nR1: {kind: resistor, resistance: 1 kohm}"
    led = bench(12, "H1: {kind: led lamp, current: 20 mA}" + feed,
                "BAT.+, R1.1\nR1.2, H1.1\nH1.2, BAT.-")
    bulb = bench(12, "H1: {kind: lamp, power: 21 W}" + feed,
                 "BAT.+, R1.1\nR1.2, H1.1\nH1.2, BAT.-")
    assert solve(led, "here").parts["H1"].doing == "dim"
    assert solve(bulb, "here").parts["H1"].doing == "off"


def test_forward_volts_above_the_system_are_refused() -> None:
    with pytest.raises(FileProblemsError, match="forward volts"):
        read_circuit_text("loomwright: 1\nsystem: 12 V\nparts:\n  BAT: {kind: battery}\n"
                          "  H1: {kind: led lamp, forward volts: 14 V}\n"
                          "wires:\n  - [W1, BAT.+, H1.1]\n  - [W2, H1.2, BAT.-]\n")


def test_every_fault_of_a_led_lamp_shows() -> None:
    shows = fault_shows(bench(12, LED, RIGHT), "H1")
    assert shows["burnt-out:H1"] >= {"amps", "words"}
    assert shows["shorted:H1"] >= {"volts", "words"}  # the fuse blows
    assert set(shows) == {"burnt-out:H1", "shorted:H1"}


CAPACITOR = ("F1: {kind: fuse, rating: 5 A}\nC1: {kind: capacitor}\n"
             "R1: {kind: resistor, resistance: 12 ohm}")
ACROSS = "BAT.+, F1.1\nF1.2, C1.1\nC1.2, BAT.-\nF1.2, R1.1\nR1.2, BAT.-"


def test_no_steady_current_passes_a_capacitor() -> None:
    circuit = bench(12, CAPACITOR, ACROSS)
    assert solve(circuit, "here").wires["W3"] == pytest.approx(0.0, abs=1e-9)
    series = bench(12, "C1: {kind: capacitor}\nR1: {kind: resistor, resistance: 1 ohm}",
                   "BAT.+, C1.1\nC1.2, R1.1\nR1.2, BAT.-")
    assert solve(series, "here").points["C1.2"].volts == pytest.approx(0.0, abs=1e-6)


def test_every_fault_of_a_capacitor_shows() -> None:
    shows = fault_shows(bench(12, CAPACITOR, ACROSS), "C1")
    assert shows["shorted:C1"] >= {"volts", "words", "ohms"}  # the fuse blows
    assert "amps" in shows["leaky:C1"]  # 12 V over 100 ohm
    assert set(shows) == {"shorted:C1", "leaky:C1"}
    assert solve_all(bench(12, CAPACITOR, ACROSS))["here"].parts["F1"].doing == "whole"
