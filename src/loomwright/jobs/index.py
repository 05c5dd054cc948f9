"""The index of jobs: what the list shows and the search looks through, one row per job.

It is derived: written anew with each event of its job, and for all jobs after a migration. A search
is a scan over folded text (substrings, so that part of a VIN is found), measured in the tests.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from loomwright.jobs.history import replay
from loomwright.jobs.records import Event
from loomwright.jobs.schema import circuits, events, job_index, jobs

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from loomwright.jobs.records import History

__all__ = ["CLOSED", "Wanted", "find_rows", "folded", "index_job", "rebuild_index"]

CLOSED = ("finished", "handed over")
MAX_WORDS = 12  # of one search
# The parts of each event that are worth finding.
FOUND_IN = {
    "repair": ("repair", "text", "found"), "part": ("what",), "photo": ("caption",),
    "findings": ("cause", "correction", "remains"), "finish": ("note", "reason"),
    "answer": ("who", "note"), "hand over": ("who", "explained"),
}
SQUEEZED = ("plate", "vin", "phone")


@dataclass(frozen=True, slots=True)
class Wanted:
    """What to list: words to search for, open or closed jobs or both, and how many at most."""

    words: str = ""
    closed: bool | None = None
    most: int = 1_000_000


def folded(text: str) -> str:
    """Return text as it is compared: no accents, no case, single blanks."""
    plain = unicodedata.normalize("NFKD", text)
    plain = "".join(one for one in plain if not unicodedata.combining(one))
    return " ".join(plain.casefold().split())


def _squeezed(text: str) -> str:
    """Return only letters and digits: 'SP 07-A' is found as 'sp07a'."""
    return "".join(one for one in folded(text) if one.isalnum())


def index_job(connection: Connection, job_id: int) -> None:
    """Write a job's row of the index from its card and events, within the caller's transaction."""
    card = connection.execute(jobs.select().where(jobs.c.id == job_id)).mappings().one()
    rows = connection.execute(
        events.select().where(events.c.job == job_id).order_by(events.c.number)).mappings()
    _write(connection, dict(card), [_event(row) for row in rows])


def rebuild_index(connection: Connection) -> None:
    """Write the rows of all jobs anew."""
    connection.execute(job_index.delete())
    cards = connection.execute(jobs.select()).mappings().all()
    own: dict[int, list[Event]] = {}
    for row in connection.execute(events.select().order_by(events.c.job, events.c.number)
                                  ).mappings():
        own.setdefault(int(row["job"]), []).append(_event(row))
    for card in cards:
        _write(connection, dict(card), own.get(int(card["id"]), []))


def _event(row: Any) -> Event:
    return Event(row["number"], row["kind"], row["at"], row["by"], row["key"],
                 json.loads(row["body"]))


def _write(connection: Connection, card: Mapping[str, Any], own: list[Event]) -> None:
    history = replay(own)
    digest = history.circuit or card["circuit"]
    text = connection.execute(circuits.select().where(circuits.c.hash == digest)
                              ).mappings().one()["text"]
    values = {
        "state": history.state, "asks": int(history.office.asks),
        "readings": len(history.readings), "last_at": own[-1].at if own else card["created_at"],
        "title": _title(text), "card": json.dumps(dict(history.office.card), ensure_ascii=False),
        "text": _text(card, own, history)}
    key = job_index.c.job == card["id"]
    if connection.execute(job_index.select().where(key)).first() is None:
        connection.execute(job_index.insert().values(job=card["id"], **values))
    else:
        connection.execute(job_index.update().where(key).values(**values))


def _title(circuit_text: str) -> str:
    """Return the title line of a circuit file; the whole file is not read for it."""
    import yaml

    found = re.search(r"^title:.*$", circuit_text, re.MULTILINE)
    try:  # the base loader keeps text as typed: others raise on a title such as 2026-13-40
        read = yaml.load(found[0], Loader=yaml.BaseLoader) if found else {}
    except (yaml.YAMLError, RecursionError):
        read = {}
    title = read.get("title") if isinstance(read, dict) else ""
    return title if isinstance(title, str) else ""


def _text(card: Mapping[str, Any], own: Iterable[Event], history: History) -> str:
    """Return everything a job is found by, folded; old values of a changed card stay findable."""
    first = [str(card[name]) for name in ("customer", "vehicle", "plate", "vin", "system",
                                          "complaint", "complaint_when")]
    changed = history.office.card
    squeezed = [_squeezed(str(card[name])) for name in ("plate", "vin")]
    squeezed += [_squeezed(changed.get(name, "")) for name in SQUEEZED]
    words = [*first, *_event_words(own)]
    return folded(" \n ".join(words)) + " " + " ".join(one for one in squeezed if one)


def _event_words(own: Iterable[Event]) -> Iterator[str]:
    for one in own:
        if one.kind == "card":
            yield from one.body.values()
        for name in FOUND_IN.get(one.kind, ()):
            yield one.body.get(name, "")


def find_rows(connection: Connection, wanted: Wanted) -> list[Mapping[str, Any]]:
    """Return the rows of jobs with those of the index, newest first.

    Every word must be in the job's text, or all of them together, written as one, where the
    search has a digit in it (a plate, part of a VIN, a telephone number).
    """
    from sqlalchemy import and_, or_, select

    query = select(jobs, job_index.c.state, job_index.c.asks, job_index.c.readings,
                   job_index.c.last_at, job_index.c.title, job_index.c.card
                   ).join(job_index, job_index.c.job == jobs.c.id).order_by(jobs.c.id.desc())
    if wanted.closed is not None:
        is_closed = job_index.c.state.in_(CLOSED)
        query = query.where(is_closed if wanted.closed else ~is_closed)
    words = folded(wanted.words).split()[:MAX_WORDS]
    if words:
        asked = and_(*(job_index.c.text.contains(word, autoescape=True) for word in words))
        one = _squeezed(wanted.words)
        if len(one) >= 3 and any(sign.isdigit() for sign in one):
            asked = or_(asked, job_index.c.text.contains(one, autoescape=True))
        query = query.where(asked)
    return [dict(row) for row in connection.execute(query.limit(wanted.most)).mappings()]
