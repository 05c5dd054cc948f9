"""What each instrument shows of one feed: meter, test lamp, 21 W lamp, buzzer, clamp."""

from __future__ import annotations

import pytest

from loomwright.circuit.plant import CircuitPlant
from loomwright.circuit.readings import read_readings_text
from loomwright.plant import NO_FAULT, Check, Hypothesis
from tests.support.demo import small

FEED = ("BAT: {kind: battery}\nF1: {kind: fuse, rating: 10 A}\nE1: {kind: earth}\n"
        "R1: {kind: resistor, resistance: 1000 ohm}")
WIRES = "BAT.+, F1.1\nF1.2, R1.1\nR1.2, E1"


def level(ohm: float, instrument: str) -> str:
    """Return what a lamp from the fuse to the battery's minus does behind a bad wire."""
    plant = CircuitPlant(small(FEED, WIRES))
    bad = Hypothesis(f"high-resistance:W1:{ohm:g}", "W1", "high-resistance", "mend W1", 1e-3)
    return shown(plant, bad, plant.check_for("here", "voltage", "F1.2", "BAT.-", instrument))


def shown(plant: CircuitPlant, fault: Hypothesis, check: Check) -> str:
    """Return the likeliest level of a check, at the middle of the battery's volts."""
    levels = plant.predict((fault,), (check,)).levels[0]
    return check.levels[int(levels[len(levels) // 2, 0].argmax())]


@pytest.mark.parametrize(("ohm", "test_lamp", "load_lamp"), [
    # The 10 ohm lamp is full from 60 % of 12.6 V: up to 7.5 ohm (10.5 ohm on 12 V) before it.
    # The bulb takes 1.75 A x u^0.55 at u of 12 V; it is full from u = 0.6, by hand up to
    # (12.6 V - 7.2 V) / (1.75 A x 0.755) = 4.1 ohm.
    (0.5, "on", "on"), (3.5, "on", "on"), (4.7, "on", "dim"), (40.0, "dim", "off"),
    # cold, the bulb has 0.5 ohm: 200 ohm leave it dark
    (200.0, "off", "off"),
])
def test_a_bulb_finds_the_joint_that_a_test_lamp_passes(ohm: float, test_lamp: str,
                                                        load_lamp: str) -> None:
    assert (level(ohm, "test lamp"), level(ohm, "21 W lamp")) == (test_lamp, load_lamp)


def test_the_two_lamps_are_readings_apart() -> None:
    plant = CircuitPlant(small(FEED, WIRES))
    one, two = (plant.check_for("here", "voltage", "F1.2", "", name)
                for name in ("test lamp", "21 W lamp"))
    assert one.id != two.id
    assert two.text.startswith("21 W lamp across")
    assert two.minutes > one.minutes
    (reading,) = read_readings_text(
        "- {state: here, quantity: voltage, at: F1.2, value: dim, instrument: 21 W lamp}",
        plant.circuit)
    assert (reading.instrument, reading.value) == ("21 W lamp", "dim")


# 25 and 36: three times the 6 % by which a resistor may be off
@pytest.mark.parametrize(("ohm", "heard"), [(0.1, "closed"), (25, "closed"), (36, "open"),
                                            (5000, "open")])
def test_the_buzzer_sounds_below_thirty_ohm(ohm: float, heard: str) -> None:
    plant = CircuitPlant(small(FEED.replace("1000", f"{ohm:g}"), WIRES))
    check = plant.check_for("isolated", "continuity", "R1.1", "R1.2")
    assert shown(plant, NO_FAULT, check) == heard
    assert "buzzer below 30 ohm (assumed)" in check.text


def test_a_clamp_shows_tenths_and_a_meter_in_the_wire_hundredths() -> None:
    plant = CircuitPlant(small(FEED, WIRES))
    clamp, meter = (plant.check_for("here", "current", "W2", "", name)
                    for name in ("clamp", "meter"))
    assert (clamp.resolution, meter.resolution) == (0.1, 0.01)
    # 12.6 mA through 1 kilohm: a clamp does not tell it from nothing, the meter does
    known = plant.predict((NO_FAULT, Hypothesis("open:W2", "W2", "open", "mend W2", 1e-3)),
                          (clamp, meter)).mean.mean(axis=0)
    apart = abs(known[0] - known[1])
    assert apart[0] < clamp.resolution / 2
    assert apart[1] > meter.resolution
