"""What stands after a job's events, and the words for where the job is."""

from __future__ import annotations

from loomwright.jobs.history import replay
from loomwright.jobs.records import Event

READING = {"state": "open", "quantity": "lit", "at": "H1", "value": "off", "instrument": "eye"}


def events(*kinds: tuple[str, dict[str, str]]) -> list[Event]:
    return [Event(number, kind, "2026-01-01T08:00:00+00:00", "Isla", f"key-{number}", body)
            for number, (kind, body) in enumerate(kinds, 1)]


def test_a_job_goes_from_waiting_to_finished() -> None:
    steps: list[tuple[str, dict[str, str]]] = [
        ("reading", READING), ("begin", {"repair": "mend W20"}),
        ("repair", {"repair": "mend W20", "found": "broken at the hinge"}),
        ("reading", READING), ("finish", {"note": "done"})]
    words = [replay(events(*steps[:count])).state for count in range(6)]
    assert words == ["waiting", "finding the fault", "repairing", "proving", "proving",
                     "finished"]


def test_readings_know_which_repair_they_came_after() -> None:
    done = {"repair": "mend W20"}
    history = replay(events(("reading", READING), ("repair", done), ("reading", READING),
                            ("reopen", {}), ("reading", READING)))
    assert [(one.round, one.proving) for one in history.readings] == [
        (0, False), (1, True), (1, False)]
    assert history.repairs[0].failed
    assert history.state == "finding the fault"


def test_order_of_arrival_does_not_matter() -> None:
    items = events(("reading", READING), ("withdraw", {"number": "1"}))
    assert replay(items) == replay(reversed(items))
    assert replay(items).readings == ()
