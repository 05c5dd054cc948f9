"""JSON Schemas of the machine-readable output, written from the contract, not the program."""

from __future__ import annotations

from typing import Any

__all__ = ["CHECK", "DEMO", "ERROR", "EXPECT", "FAULTS", "SUSPECTS", "TRACE", "WHY"]

NUMBER, TEXT, FLAG = {"type": "number"}, {"type": "string"}, {"type": "boolean"}
SHARE = {"type": "number", "minimum": 0, "maximum": 1}
TEXTS = {"type": "array", "items": TEXT}


def thing(**keys: Any) -> dict[str, Any]:
    """Return the schema of an object that has exactly these keys."""
    return {"type": "object", "properties": keys, "required": list(keys),
            "additionalProperties": False}


def either(*kinds: str) -> dict[str, Any]:
    """Return the schema of a value of one of several types."""
    return {"type": list(kinds)}


def named(item: Any) -> dict[str, Any]:
    """Return the schema of an object from names to items."""
    return {"type": "object", "additionalProperties": item}


def listed(item: Any) -> dict[str, Any]:
    """Return the schema of a list."""
    return {"type": "array", "items": item}


ERROR = thing(error=thing(
    code=TEXT, message={"type": "string", "minLength": 5}, next_step={"type": "string"},
    problems=listed(thing(line={"type": "integer", "minimum": 0},
                          column={"type": "integer", "minimum": 0},
                          what={"type": "string", "minLength": 5}, fix=TEXT))))

CHECK = thing(
    file=TEXT, title=TEXT, system_v=NUMBER, parts={"type": "integer"}, wires={"type": "integer"},
    states=TEXTS, assumed=listed(thing(element=TEXT, what=TEXT, text=TEXT)), notes=TEXTS,
    problems={"type": "array", "maxItems": 0})

EXPECT = thing(states=named(thing(
    points=named(thing(volts=NUMBER, floating=FLAG)),
    wires=named(thing(amps=NUMBER)),
    parts=named(thing(doing=TEXT, amps=either("number", "null"))),
    inputs=named(named(FLAG)), outputs=named(named(FLAG)), notes=TEXTS)))

FAULTS = listed(thing(
    id=TEXT, element=TEXT, kind=TEXT, ohms=either("number", "null"),
    prior={"type": "number", "exclusiveMinimum": 0}, repair=TEXT))

TRACE = thing(
    ends=listed(thing(
        wire=TEXT, **{"from": TEXT},
        status={"enum": ["found", "one of", "in the air", "open"]},
        destinations=listed(thing(lines=listed(TEXTS), in_the_air=FLAG, probability=SHARE)),
        text=TEXT, line_to_write={"type": "string"})),
    next_readings=listed(thing(
        state=TEXT, quantity=TEXT, at=TEXT, to={"type": "string"}, instrument=TEXT,
        minutes={"type": "number", "exclusiveMinimum": 0}, bits=NUMBER)),
    lengths=listed(thing(
        wire=TEXT, length_m=either("number", "null"),
        range_m={"anyOf": [{"type": "null"}, listed(NUMBER)]}, text=TEXT,
        line_to_write={"type": "string"})),
    unexplained=SHARE, notes=TEXTS)

SUSPECTS = thing(
    suspects=listed(thing(
        id=TEXT, element=TEXT, kind=TEXT, probability=SHARE,
        severity_ohms={"anyOf": [{"type": "null"}, thing(low=NUMBER, mid=NUMBER, high=NUMBER)]},
        repair=TEXT)),
    no_fault=SHARE, unmodelled=SHARE,
    next_checks=listed(thing(
        state=TEXT,
        quantity={"enum": ["voltage", "current", "resistance", "lit", "running", "input",
                           "output", "heard", "turns", "continuity",
                           "ac voltage"]},
        at=TEXT, to=TEXT,
        instrument={"enum": ["meter", "test lamp", "21 W lamp", "clamp", "eye", "ear", "hand",
                             "controller"]},
        minutes=NUMBER, gain_bits=NUMBER, predicts=named(either("number", "string", "null")))),
    verdict=thing(
        status={"enum": ["look further", "repair", "no fault found", "unexplained"]},
        repair=TEXT, confidence=SHARE, why={"type": "string", "minLength": 5}))

DEMO = thing(
    title=TEXT, vehicle=TEXT, seed={"type": "integer"}, hidden_fault=TEXT, complaint=TEXT,
    cause=TEXT, correction=TEXTS, proved=FLAG, minutes=NUMBER,
    evidence=listed(thing(
        stage={"enum": ["complaint", "finding", "proof"]}, state=TEXT, quantity=TEXT, at=TEXT,
        to=TEXT, instrument=TEXT, value=either("number", "string"), unit=TEXT, minutes=NUMBER,
        suspects=listed(thing(id=TEXT, probability=SHARE)))),
    verdict=thing(status=TEXT, repair=TEXT, confidence=SHARE, why=TEXT),
    proof={"anyOf": [{"type": "null"}, thing(holds=FLAG, why=TEXT, failed=TEXTS)]})

WHY: dict[str, Any] = {"type": "object"}
