"""Alternator, and a battery that takes its charge."""

from __future__ import annotations

import pytest

from loomwright.circuit import parse_fault, solve, solve_all
from loomwright.circuit.kinds.alternator import output_share, set_volts
from loomwright.circuit.model import Circuit
from tests.circuit.kinds.benches import fault_shows
from tests.support.demo import small

# temperature, lowest and highest charging volts (2020 maker's table, source S68, published)
TABLE = [(-20, 14.0, 15.1), (20, 13.7, 14.6), (60, 13.2, 14.3), (80, 12.9, 14.1)]
STATES = ("off: {};key: {ignition: yes};idle: {ignition: yes, engine: 800 rpm};"
          "fast: {ignition: yes, engine: 3000 rpm};loaded: {ignition: yes, engine: 800 rpm, "
          "loads: yes}")
WIRES = """G1.B+, BAT.+
BAT.-, G1.B-
BAT.+, S2.1
S2.2, H1.1
H1.2, G1.D+
BAT.+, S3.1
S3.2, R1.1
R1.2, BAT.-"""


def vehicle(ohm: float = 0.18) -> Circuit:
    parts = ("BAT: {kind: battery}\nG1: {kind: alternator}\nH1: {kind: lamp, power: 2 W}\n"
             "S2: {kind: switch, closed when: ignition}\nS3: {kind: switch, closed when: loads}\n"
             f"R1: {{kind: resistor, resistance: {ohm} ohm}}\nE1: {{kind: earth}}")
    return small(parts, "\n".join(f"{one}, 400 mm2, 1 mm" for one in WIRES.splitlines()), STATES)


def faulty(fault: str, state: str) -> tuple[float, str, float]:
    """Return battery volts, what the charge lamp does and the alternator's amps."""
    circuit = vehicle()
    found = solve(circuit.with_faults([parse_fault(circuit, fault)]), state)
    return (found.points["BAT.+"].volts, found.parts["H1"].doing,
            found.parts["G1"].amps or 0.0)


@pytest.mark.parametrize(("degrees", "low", "high"), TABLE)
def test_set_volts_lie_in_the_published_range(degrees: int, low: float, high: float) -> None:
    assert low <= set_volts(12, degrees) <= high


def test_set_volts_follow_the_published_gradient() -> None:
    # 14.4 V at 20 degC, -0.1 V per 10 degC (source S76, published)
    assert set_volts(12) == pytest.approx(14.4)
    assert set_volts(12, 30) - set_volts(12, 20) == pytest.approx(-0.1)
    assert set_volts(24) == pytest.approx(28.8)


def test_output_grows_with_speed_to_nearly_all_of_it() -> None:
    shares = [output_share(rpm) for rpm in (0, 400, 600, 800, 1500, 2500, 3000)]
    assert shares == sorted(shares)
    assert shares[:2] == [0, 0]
    # within 10 % of rated at 2500 to 3000 rpm (source S79, published)
    assert min(shares[-2:]) > 0.9


def test_charging_volts_by_hand() -> None:
    found = solve(vehicle(), "idle")
    # (14.4 - V)/0.003 = (V - 12.6)/0.12: V = 14.356, 14.63 A into the battery; D+ takes from the
    # field diodes; contacts and the lamp's share are some millivolts
    assert found.points["BAT.+"].volts == pytest.approx(14.356, abs=0.005)
    assert found.wires["W2"] == pytest.approx(14.63, rel=0.01)
    assert found.parts["BAT"].amps == pytest.approx(-14.63, rel=0.01)


def test_beyond_its_limit_the_battery_helps() -> None:
    found = solve(vehicle(0.12), "loaded")
    # 800 rpm: sqrt(1 - (520/800)^2) = 0.760 of 90 A = 68.4 A; the load wants over 100 A
    assert found.parts["G1"].amps == pytest.approx(68.4, rel=2e-3)
    assert (found.parts["BAT"].amps or 0) > 0
    assert found.points["BAT.+"].volts < 12.6


def test_volts_stay_within_what_service_books_accept() -> None:
    results = solve_all(vehicle(0.3))
    rest = results["off"].points["BAT.+"].volts
    # over rest by 0.5 V at least with loads on, by 2.5 V at most without (source S85, published)
    assert results["loaded"].points["BAT.+"].volts >= rest + 0.5
    assert results["fast"].points["BAT.+"].volts <= rest + 2.5


def test_the_charge_lamp_lights_with_the_key_and_goes_out() -> None:
    doing = {state: found.parts["H1"].doing for state, found in solve_all(vehicle()).items()}
    assert doing == {"off": "off", "key": "on", "idle": "off", "fast": "off", "loaded": "off"}


def test_without_its_lamp_wire_it_is_never_excited() -> None:
    volts, lamp, amps = faulty("open:W5", "fast")
    assert (lamp, amps) == ("off", 0.0)
    assert volts < 12.7


def test_faults_read_as_they_do_on_a_vehicle() -> None:
    assert faulty("no-excitation:G1", "key")[1] == "off"
    assert faulty("no-excitation:G1", "fast")[0] < 12.7
    assert faulty("regulator-high:G1", "fast")[0] > 16
    assert faulty("regulator-low:G1", "fast")[0] < 13.1
    # one diode open: 0.65 of 68.4 A at idle
    assert faulty("diode-open:G1", "loaded")[2] == pytest.approx(0.65 * 68.4, rel=2e-3)
    volts, _, amps = faulty("diode-shorted:G1", "off")
    circuit = vehicle()
    resting = solve(circuit.with_faults([parse_fault(circuit, "diode-shorted:G1")]), "off")
    assert amps == 0.0
    # 12.6 V over 12 ohm: a drain of 1.05 A with all off, against 5 to 65 mA that makers allow
    assert resting.wires["W1"] == pytest.approx(-1.05, rel=0.01)
    assert volts < 12.6


def test_every_fault_shows() -> None:
    shows = fault_shows(vehicle(), "G1")
    assert len(shows) == 5
    assert all(how & {"volts", "amps"} for how in shows.values())


def test_a_battery_charges_less_easily_than_it_gives() -> None:
    # with the resistance given and nothing else it is the same both ways
    circuit = small("BAT: {kind: battery, volts: 12 V, resistance: 0.1 ohm}\n"
                    "G1: {kind: alternator, set volts: 14 V}\nH1: {kind: lamp, power: 2 W}",
                    "BAT.+, G1.B+\nBAT.-, G1.B-\nBAT.+, H1.1\nH1.2, G1.D+",
                    "on: {engine: yes}")
    amps = solve(circuit, "on").parts["BAT"].amps or 0
    # (14 - 12)/(0.1 + 0.003 + two wires of 2 m of 1 mm2 at 18.5 milliohm/m)
    assert amps == pytest.approx(-2 / (0.103 + 4 * 0.0185), rel=0.02)
