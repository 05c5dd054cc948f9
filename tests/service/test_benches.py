"""The benches of a year's jobs do not fill the memory."""

from __future__ import annotations

import gc
import weakref

import pytest

from loomwright.circuit.templates import template_text
from loomwright.service import benches
from loomwright.service.benches import Benches

TEXTS = {str(n): template_text("horn").replace("title:", f"title: {n}", 1) for n in range(6)}


def test_the_benches_used_last_stay_as_far_as_there_is_room(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    kept = Benches(TEXTS.__getitem__)
    first = kept.get("0").ready()
    assert first.pairs > 1_000
    monkeypatch.setattr(benches, "MOST_PAIRS", 3 * first.pairs)
    gone = weakref.ref(kept.get("1").ready())
    for name in "0203":  # the first one is in use all the time
        kept.get(name).ready()
    assert kept.get("0") is first
    kept.get("4").ready()
    kept.get("5")
    gc.collect()
    assert gone() is None
    assert kept.get("0") is first
    assert kept.get("1").ready().pairs == first.pairs  # built again where it is asked for


def test_one_larger_than_the_room_is_kept_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(benches, "MOST_PAIRS", 1)
    kept = Benches(TEXTS.__getitem__)
    assert kept.get("2").ready() is kept.get("2")
    assert kept.get("3") is not kept.get("2")
