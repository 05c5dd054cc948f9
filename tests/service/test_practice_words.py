"""What the practice bench says and takes: instruments by their usual name, words of the trade."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from loomwright.diagnosis import Evidence
from loomwright.errors import UsageError
from loomwright.service.practice import Asked, Practice
from loomwright.service.practice_view import complaint_words, said_words


@pytest.fixture
def practice(tmp_path: Path) -> Practice:
    """Return a bench on an empty folder."""
    return Practice(tmp_path)


def test_the_usual_instrument_of_a_current_is_the_clamp(practice: Practice) -> None:
    name = practice.start("Mhairi", ("horn", 1, 1))
    practice.measure(name, "Mhairi", Asked("sounding", "current", "W4", predict="5 A"))
    practice.measure(name, "Mhairi", Asked("sounding", "current", "W4", predict="5 A",
                                           instrument="meter"))
    view = practice.view(name, "Mhairi")
    assert [one.instrument for one in view.readings] == ["clamp", "meter"]


@pytest.mark.parametrize(("asked", "said", "told"), [
    (Asked("sounding", "voltage", "F1.2", instrument="test lamp"), "12 V", "test lamp"),
    (Asked("sounding", "heard", "K1"), "12 V", "ear"),
])
def test_a_prediction_that_the_instrument_cannot_show_says_what_it_can(
        practice: Practice, asked: Asked, said: str, told: str) -> None:
    name = practice.start("Mhairi", ("horn", 1, 1))
    wrong = replace(asked, predict=said)
    with pytest.raises(UsageError, match=f"'12 V' is not what the {told} can tell") as caught:
        practice.measure(name, "Mhairi", wrong)
    assert "'?' when you cannot say" in (caught.value.next_step or "")
    assert practice.view(name, "Mhairi").readings == ()


def test_a_heater_is_weak_and_a_motor_slow(practice: Practice) -> None:
    seat, fan = practice._bench("seat-heating"), practice._bench("radiator-fan")
    mat = seat.plant.check_for("stage two", "running", "R1")
    assert complaint_words(seat, Evidence(mat, "slow")) == (
        "State 'stage two': Cushion mat (R1) is weak; it should be on.")
    turning = fan.plant.check_for("hot", "running", "M1")
    assert said_words(fan, turning, "slow") == "slow"
    name = practice.start("Mhairi", ("seat-heating", 2, 1))
    practice.measure(name, "Mhairi", Asked("stage two", "running", "R1", predict="weak"))
    assert practice.view(name, "Mhairi").readings[0].predicted == "weak"


def test_what_the_workshop_measured_is_told_with_what_is_usual(practice: Practice) -> None:
    bus, bike = practice._bench("can-bus"), practice._bench("motorcycle-charge")
    ohms = bus.plant.check_for("at rest", "resistance", "N1.H", "N1.L")
    assert complaint_words(bus, Evidence(ohms, 120.4)) == (
        "State 'at rest': between N1.H and N1.L a meter shows 120 ohm; "
        "it should be about 60.3 ohm.")
    volts = bike.plant.check_for("running", "voltage", "BAT.+", "BAT.-")
    assert complaint_words(bike, Evidence(volts, 12.41)).startswith(
        "State 'running': battery BAT stands at 12.41 V; it should be about 14.0")


def test_giving_up_is_no_wrong_repair_and_costs_less_than_one(practice: Practice) -> None:
    for who, named in (("Mhairi", ""), ("Ewan", "replace B1")):
        name = practice.start(who, ("horn", 1, 1))
        practice.measure(name, who, Asked("sounding", "voltage", "F1.2", predict="12 V"))
        practice.name_repair(name, who, named)
    given_up, wrong = (practice.view(name, who).result for who in ("Mhairi", "Ewan"))
    assert given_up is not None
    assert wrong is not None
    assert given_up.headline == "Given up: no repair named."
    assert len(given_up.sentences) == 1
    assert "Giving up is charged as a comeback" in given_up.sentences[0]
    assert wrong.headline.startswith("Not the fault")
    assert wrong.points < given_up.points < 60
