"""Plain words for readings, checks and suspects; British trade English."""

from __future__ import annotations

import math
from collections.abc import Sequence

from loomwright.diagnosis.records import Suspect
from loomwright.diagnosis.table import Table
from loomwright.plant import Check

__all__ = ["cause_words", "check_words", "join_words", "ohm_words", "percent", "repair_words",
           "seen_words", "suspect_words", "value_words"]

_OPEN_OHM = 9.9e6
_IS = {
    "open": "is open circuit", "high-resistance": "has a high resistance",
    "short-to-earth": "is shorted to earth", "short-to-supply": "is shorted to battery positive",
    "stuck-open": "stays open", "stuck-closed": "stays closed", "welded": "has a welded contact",
    "coil-open": "has an open coil", "contact-open": "has a contact that does not close",
    "stuck": "is stuck", "driver-dead": "has a dead driver",
    "driver-stuck-on": "has a driver stuck on", "input-dead": "always reads off",
    "input-stuck-on": "always reads on",
}

_SEEN_NOUNS = {"lit": "lamp {}", "running": "{}", "heard": "sound of {}", "input": "input {}",
               "output": "output {}"}
_STATES_OF = {"lit", "running", "input", "output"}


def value_words(check: Check, value: float | str | None) -> str:
    """Return a reading in words: '11.9 V', 'on', 'open circuit', 'nothing certain'."""
    if value is None:
        return "nothing certain"
    if isinstance(value, str):
        return value
    if check.unit == "ohm" and value >= _OPEN_OHM:
        return "open circuit"
    size = abs(value)
    if size < 0.0005:
        return f"0 {check.unit}".rstrip()
    digits = 0 if size >= 1000 else 1 if size >= 100 else 2 if size >= 0.095 else 3
    text = f"{value:.{digits}f}"
    text = text.removeprefix("-") if float(text) == 0.0 else text
    return f"{text} {check.unit}".rstrip()


def check_words(check: Check) -> str:
    """Return what a check measures and where: "voltage at F12.2 in 'locking'", "lamp H1 in 'open'".

    What is looked at or heard is named as one would: no "lit at H1".
    """
    place = f"{check.at} to {check.to}" if check.to and not check.action else check.at
    state = f" in '{check.state}'" if check.state else ""
    if check.action:
        state += f" ({check.to} meanwhile)"
    if not place:
        return f"{check.quantity}{state}"
    noun = _SEEN_NOUNS.get(check.quantity, f"{check.quantity} at {{}}")
    return noun.format(place) + state


def seen_words(check: Check, value: float | str, healthy: float | str | None) -> str:
    """Return a reading beside what it should be, as one says it.

    "lamp H1 in 'open' was dim where it should be on"; "voltage at Y1.1 in 'locking' read 0 V where
    a healthy circuit shows 25 V".
    """
    seen, wanted = value_words(check, value), value_words(check, healthy)
    if check.quantity in _STATES_OF and healthy is not None:
        return f"{check_words(check)} was {seen} where it should be {wanted}"
    return f"{check_words(check)} read {seen} where a healthy circuit shows {wanted}"


def percent(share: float) -> str:
    """Return a probability in words that never claims certainty: '97 %', 'over 99 %'."""
    if share > 0.995:
        return "over 99 %"
    if share < 0.005:
        return "under 1 %"
    return f"{100.0 * share:.0f} %"


def repair_words(table: Table, repair: str) -> str:
    """Return what is done for a repair, in the plant's words."""
    known = table.repairs.get(repair)
    return known.text or known.id if known else repair


def suspect_words(suspect: Suspect) -> str:
    """Return a suspect in words: 'W21 open', 'E2 high resistance, about 0.80 ohm'."""
    text = f"{suspect.element} {suspect.kind.replace('-', ' ')}".strip()
    if suspect.severity is not None and suspect.severity.mid_ohm < _OPEN_OHM:
        text += f", about {ohm_words(suspect.severity.mid_ohm)}"
    return text


def cause_words(element: str, kind: str) -> str:
    """Return a fault as the start of a sentence: 'M1 is seized', 'W11 is shorted to earth'."""
    return f"{element} {_IS.get(kind, 'is ' + kind.replace('-', ' '))}"


def ohm_words(ohms: float) -> str:
    """Return a resistance [ohm] to two significant figures: '0.80 ohm', '38 ohm', '8.5 kohm'.

    An estimate is no better known than that; a reading keeps what its meter showed.
    """
    rounded = float(f"{ohms:.1e}")
    size, unit = (rounded / 1000.0, "kohm") if rounded >= 1000.0 else (rounded, "ohm")
    lead = math.floor(math.log10(size)) if size > 0.0 else 0
    return f"{size:.{min(max(1 - lead, 0), 4)}f} {unit}"


def join_words(words: Sequence[str], last: str = "and") -> str:
    """Return 'a', 'a and b', 'a, b and c'."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"
