"""Plain words: two figures of an estimated resistance, and nothing said where nothing is told."""

from __future__ import annotations

import pytest

from loomwright.diagnosis import Evidence, build_table, diagnose
from loomwright.diagnosis.wording import ohm_words
from tests.support.plants import series_plant


@pytest.mark.parametrize(("ohms", "words"), [
    (0.8, "0.80 ohm"), (0.0523, "0.052 ohm"), (37.8, "38 ohm"), (0.996, "1.0 ohm"),
    (99.7, "100 ohm"), (853.0, "850 ohm"), (8530.0, "8.5 kohm"), (999.9, "1.0 kohm"),
])
def test_an_estimated_resistance_has_two_figures(ohms, words):
    assert ohm_words(ohms) == words


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
