"""What a technician would look for in a template's wiring, beyond its states."""

from __future__ import annotations

import pytest

from loomwright.circuit import parse_fault, solve
from loomwright.circuit.model import Circuit, StateResult
from loomwright.circuit.plant import CircuitPlant
from loomwright.circuit.templates import template
from loomwright.plant import NO_FAULT
from tests.circuit.templates.test_templates import circuit_of


def faulty(circuit: Circuit, fault: str, state: str) -> StateResult:
    return solve(circuit.with_faults([parse_fault(circuit, fault)]), state)


@pytest.mark.parametrize("system", ["12 V", "24 V"])
def test_the_parked_wiper_motor_is_braked_by_its_cam(system: str) -> None:
    circuit = circuit_of("wipers", system)
    plant = CircuitPlant(circuit)
    ohms = plant.check_for("ignition on", "resistance", "X1.4a", to="E1")
    stuck = next(row for row in plant.faults() if row.fault_id == "stuck-open:S6")
    parked, unbraked = plant.predict((NO_FAULT, stuck), (ohms,)).mean[0, :, 0]
    # in park the cam lays its wire on earth; without it the armature is what hangs there
    assert parked < 0.2 < 0.4 < unbraked
    # a cam that does not let go of earth shorts the feed on the way home
    assert faulty(circuit, "stuck-closed:S6", "running home").parts["F1"].doing == "blown"


def test_an_open_temperature_sensor_reads_five_volts_at_either_system() -> None:
    for system in template("coolant-ntc").systems:
        circuit = circuit_of("coolant-ntc", system)
        cold, hot = (solve(circuit, state).points["ECU.7"].volts for state in ("cold", "hot"))
        # 2.5 kohm at 25 degC by the beta law against 2.2 kohm to 5 V
        assert 2.5 < cold < 3.2
        assert 0.3 < hot < 0.7
        for gone in ("open:W5", "open:W8"):
            # common practice: an unplugged sensor reads the 5 V of its pull-up
            volts = faulty(circuit, gone, "cold").points["ECU.7"].volts
            assert volts == pytest.approx(5.0, abs=0.01)  # 10 Mohm meter on 2.2 kohm: 1 mV
        assert faulty(circuit, "open:W3", "cold").points["ECU.7"].volts < 0.01


def test_the_mower_runs_on_without_a_driver_only_while_it_is_parked() -> None:
    circuit = circuit_of("mower-interlock", "12 V")
    parked = solve(circuit, "driver off, parked")
    assert (parked.parts["Y2"].doing, parked.parts["Y1"].doing) == ("on", "off")
    assert faulty(circuit, "stuck-closed:S8", "driver off, parked").parts["Y2"].doing == "on"
    # a seat switch that never closes is not noticed while the brake is down
    for state, fuel in (("driver off, parked", "on"), ("mowing", "off")):
        assert faulty(circuit, "stuck-open:S6", state).parts["Y2"].doing == fuel


def test_a_clamp_diode_lies_against_the_feed_of_its_winding() -> None:
    for name in ("ac-clutch", "stop-solenoid"):
        circuit = circuit_of(name, "12 V")
        state = "cooling" if name == "ac-clutch" else "running"
        points = solve(circuit, state).points
        assert points["D1.2"].volts - points["D1.1"].volts > 10  # cathode on the feed: no current


def test_the_picture_of_the_camera_is_a_volt_not_the_battery() -> None:
    circuit = circuit_of("reversing-camera", "24 V")
    assert solve(circuit, "reversing").points["MON.6"].volts == pytest.approx(1.0, abs=0.1)
    assert abs(faulty(circuit, "open:W12", "reversing").points["MON.6"].volts) < 0.01


def test_the_trailers_fog_lamp_needs_the_lights() -> None:
    circuit = circuit_of("trailer-24v-pair", "24 V")
    assert solve(circuit, "fog without lights").parts["H7"].doing == "off"
    assert solve(circuit, "lights and fog").parts["H7"].doing == "on"


def test_what_can_hurt_has_a_caution() -> None:
    dangerous = {
        "battery-master": "live", "charging": "Belts", "dual-battery-relay": "Isolate both",
        "gear-selector-interlock": "Chock", "horn": "airbag", "mower-magneto": "kill wire",
        "pto-seat-interlock": "shafts", "seat-heating": "airbag", "start-relay": "Keep clear",
        "start-series-batteries": "burns", "tail-lift": "Prop", "tailgate-lock": "Prop",
        "tipper-body": "Prop", "winch": "rope", "wipers": "pinch", "inverter-feed": "mains",
        "glow-plugs": "hot", "lift-pump": "Fuel", "window-motor": "force",
    }
    assert {name: word for name, word in dangerous.items()
            if word not in template(name).caution} == {}
