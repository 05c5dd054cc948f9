"""Plain words: two figures of an estimated resistance, and nothing said where nothing is told."""

from __future__ import annotations

import pytest

from loomwright.diagnosis import Evidence, build_table, diagnose
from loomwright.diagnosis.wording import check_words, ohm_words, seen_words
from loomwright.plant import Check
from tests.support.plants import series_plant


@pytest.mark.parametrize(("ohms", "words"), [
    (0.8, "0.80 ohm"), (0.0523, "0.052 ohm"), (37.8, "38 ohm"), (0.996, "1.0 ohm"),
    (99.7, "100 ohm"), (853.0, "850 ohm"), (8530.0, "8.5 kohm"), (999.9, "1.0 kohm"),
])
def test_an_estimated_resistance_has_two_figures(ohms, words):
    assert ohm_words(ohms) == words


@pytest.mark.parametrize(("quantity", "unit", "value", "healthy", "words"), [
    ("lit", "", "dim", "on", "lamp H1 in 'open' was dim where it should be on"),
    ("running", "", "off", "on", "H1 in 'open' was off where it should be on"),
    ("heard", "", "click", "silent",
     "sound of H1 in 'open' read click where a healthy circuit shows silent"),
    ("lit", "", "dim", None,
     "lamp H1 in 'open' read dim where a healthy circuit shows nothing certain"),
    ("voltage", "V", 0.0, 25.0,
     "voltage at H1 in 'open' read 0 V where a healthy circuit shows 25.00 V"),
])
def test_what_is_seen_is_said_as_one_says_it(quantity, unit, value, healthy, words):
    check = Check("one", "open", quantity, "H1", unit=unit)
    assert seen_words(check, value, healthy) == words
    assert "lit at" not in check_words(check)


def test_a_reading_that_tells_nothing_is_given_without_a_sentence_about_it():
    plant = series_plant(3)
    named = {check.id: check for check in plant.checks()}
    readings = [Evidence(named["P1"], 24.0), Evidence(named["P2"], 0.0), Evidence(named["P3"], 0.0)]
    answer = diagnose(build_table(plant), readings)
    texts = [one.text for one in answer.explanation]
    assert not any("hardly" in text for text in texts)
    assert "speaks for" in texts[1]
    assert "speaks for" not in texts[2]
    assert texts[2].endswith(".")
