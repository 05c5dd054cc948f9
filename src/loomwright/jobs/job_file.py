"""A whole job as one JSON file: written the same way each time, and checked before it is believed.

The file holds the job card, the text of its circuit, every event with who and when, and the photos.
`sha256`
is the hash of all the rest in canonical JSON; it shows damage and careless changes, not who wrote
the file.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from datetime import datetime, timedelta
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from loomwright.errors import FileProblemsError, Problem, UsageError

__all__ = ["FORMAT", "MAX_FILE", "JobFile", "job_file_schema", "job_file_text", "photo_bytes",
           "read_job_file"]

FORMAT = 1
MAX_FILE = 120_000_000  # characters; most of them a job's photos
MOST_CIRCUIT_TEXT = 2_000_000  # of all versions; each is read and solved before it is believed
MAX_PROBLEMS = 50  # a file with more is no job file with a slip in it
Text = Annotated[str, Field(max_length=2_000)]
Required = Annotated[str, Field(max_length=2_000, pattern=r"\S")]
Key = Annotated[str, Field(min_length=8, max_length=80)]
Hash = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Word = Annotated[str, Field(max_length=80)]


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class JobCard(_Strict):
    """The job card; `number` is that of the store it comes from."""

    number: Annotated[int, Field(ge=1)]
    key: Key
    customer: Text
    vehicle: Required
    plate: Text
    vin: Annotated[str, Field(pattern=r"^([0-9A-HJ-NPR-Z]{17})?$")] = ""
    system: Text
    complaint: Required
    when: Text
    created_at: Word
    by: Text
    demo: Word


class CircuitText(_Strict):
    """The circuit as it was given."""

    sha256: Hash
    text: Annotated[str, Field(min_length=1, max_length=500_000)]


class FileEvent(_Strict):
    """Something that happened."""

    number: Annotated[int, Field(ge=1)]
    kind: Literal["reading", "withdraw", "begin", "repair", "reopen", "finish", "card", "part",
                  "minutes", "limit", "offer", "answer", "photo", "findings", "hand over",
                  "told", "unreached", "circuit"]
    at: Word
    by: Text
    key: Key
    body: dict[Word, Text]


class FilePhoto(_Strict):
    """A photo as it is kept: JPEG, in base64."""

    sha256: Hash
    jpeg: Annotated[str, Field(max_length=2_000_000)]


class JobFile(_Strict):
    """A whole job."""

    loomwright_job: Literal[1]
    job: JobCard
    circuit: CircuitText
    circuits: Annotated[list[CircuitText], Field(max_length=100)] = []  # later versions
    events: Annotated[list[FileEvent], Field(max_length=5_000)]
    photos: Annotated[list[FilePhoto], Field(max_length=100)] = []
    sha256: Hash


def job_file_schema() -> dict[str, Any]:
    """Return the JSON Schema of a job file; hashes and order of events are checked beyond it."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema",
            **JobFile.model_json_schema(), "title": "Loomwright job file"}


def job_file_text(content: dict[str, Any]) -> str:
    """Return the file of a job; the same job gives the same bytes."""
    whole = {"loomwright_job": FORMAT, **content}
    return json.dumps({**whole, "sha256": _digest(whole)}, ensure_ascii=False, indent=1,
                      sort_keys=True) + "\n"


def read_job_file(text: str, file: str = "job file") -> JobFile:
    """Return a job file once its form, its hashes and its order of events are right.

    Raises
        UsageError: no job file at all
        FileProblemsError: everything that is wrong, together
    """
    raw = _parsed(text, file)
    try:
        found = JobFile.model_validate(raw)
    except ValidationError as error:
        raise FileProblemsError(file, [
            Problem(0, 0, f"{_place(one['loc'])}: {one['msg']}.", "Export the job again.")
            for one in error.errors(include_url=False, include_input=False)[:MAX_PROBLEMS]
        ]) from error
    problems = [*_size_problems(found), *_hash_problems(found, raw), *_time_problems(found),
                *_event_problems(found)]
    if problems:
        raise FileProblemsError(file, [
            Problem(0, 0, what, fix) for what, fix in problems[:MAX_PROBLEMS]])
    return found


def _size_problems(found: JobFile) -> Found:
    total = sum(len(one.text) for one in (found.circuit, *found.circuits))
    if total <= MOST_CIRCUIT_TEXT:
        return []
    return [(f"circuits: have {total} characters together; {MOST_CIRCUIT_TEXT} is the most.",
             "Keep to the part of the vehicle that the job is about.")]


def _parsed(text: str, file: str) -> dict[str, Any]:
    if len(text) > MAX_FILE:
        raise UsageError(f"'{file}' has {len(text)} characters; {MAX_FILE} is the most.")
    try:
        raw = json.loads(text)
        json.dumps(raw, ensure_ascii=False).encode()  # half a character can be kept by no store
    except (ValueError, RecursionError) as error:
        raise _foreign(file) from error
    version = raw.get("loomwright_job") if isinstance(raw, dict) else None
    if type(version) is not int:
        raise _foreign(file)
    if version != FORMAT:
        raise UsageError(f"'{file}' is a job file of form {version}; this program reads {FORMAT}.",
                         next_step="Import it with the version that wrote it.")
    return dict(raw)


def _foreign(file: str) -> UsageError:
    return UsageError(f"'{file}' is no job file of Loomwright.",
                      next_step="Name a file written by 'loomwright job export'.")


def _place(path: tuple[int | str, ...]) -> str:
    return ".".join(str(one) for one in path) or "file"


def _digest(whole: dict[str, Any]) -> str:
    text = json.dumps(whole, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


Found = list[tuple[str, str]]


def _hash_problems(found: JobFile, raw: dict[str, Any]) -> Found:
    again = "The file was changed or damaged: export the job again."
    problems = []
    if _digest({name: value for name, value in raw.items() if name != "sha256"}) != found.sha256:
        problems.append(("sha256: the file is not what was exported.", again))
    for place, one in (("circuit", found.circuit),
                       *((f"circuits.{at}", one) for at, one in enumerate(found.circuits))):
        text = one.text.encode("utf-8", "surrogatepass")
        if hashlib.sha256(text).hexdigest() != one.sha256:
            problems.append((f"{place}.sha256: the circuit is not what was exported.", again))
    named = {one.body.get("sha256") for one in found.events if one.kind == "circuit"}
    known = {one.sha256 for one in found.circuits}
    if named - known - {found.circuit.sha256} or known - named:
        problems.append(("circuits: are not those that the events name.", again))
    return problems


def photo_bytes(found: JobFile) -> dict[str, bytes]:
    """Return the photos of a file by their hash.

    Raises FileProblemsError where one is not what was exported or none that the events name.
    """
    made, problems = {}, []
    for at, one in enumerate(found.photos):
        try:
            data = base64.b64decode(one.jpeg, validate=True)
        except ValueError:
            data = b""
        if hashlib.sha256(data).hexdigest() != one.sha256:
            problems.append(Problem(0, 0, f"photos.{at}: is not what was exported.",
                                    "Export the job again."))
        made[one.sha256] = data
    named = {one.body["sha256"] for one in found.events if one.kind == "photo"}
    for name in sorted(named ^ set(made)):
        problems.append(Problem(0, 0, f"photos: events and photos differ in {name[:12]}.",
                                "Export the job again."))
    if problems:
        raise FileProblemsError("job file", problems[:MAX_PROBLEMS])
    return made


def _time_problems(found: JobFile) -> Found:
    times = [("job.created_at", found.job.created_at)]
    times += [(f"events.{at}.at", one.at) for at, one in enumerate(found.events)]
    return [(f"{place}: '{text}' is no time in UTC.", "Write it as 2026-11-25T09:14:00.000+00:00.")
            for place, text in times if not _is_utc(text)]


def _is_utc(text: str) -> bool:
    try:
        return datetime.fromisoformat(text).utcoffset() == timedelta(0)
    except ValueError:
        return False


NEEDED: dict[str, set[str]] = {
    "reading": {"state", "quantity", "at", "value"}, "withdraw": {"number"},
    "begin": {"repair"}, "repair": {"repair"}, "part": {"what"}, "minutes": {"minutes"},
    "answer": {"agreed", "who"}, "photo": {"sha256", "width", "height"}, "hand over": {"who"},
    "told": {"sort", "text"}, "unreached": {"at"}, "circuit": {"sha256"}}
UNDONE = ("reading", "part", "minutes", "photo", "told", "unreached")  # what can be taken back
DIGITS = re.compile(r"[0-9]{1,5}")


def _event_problems(found: JobFile) -> Found:
    problems, keys, readings = [], set(), set()
    for at, one in enumerate(found.events):
        place = f"events.{at}"
        if one.number != at + 1:
            problems.append((f"{place}.number: is {one.number}.", f"It must be {at + 1}."))
        if one.key in keys:
            problems.append((f"{place}.key: was used before.", "Each event has its own."))
        keys.add(one.key)
        for name in sorted(NEEDED.get(one.kind, set()) - set(one.body)):
            problems.append((f"{place}.body: has no '{name}'.", f"A {one.kind} needs it."))
        if one.kind in UNDONE:
            readings.add(str(one.number))
        elif one.kind == "withdraw" and one.body.get("number", "") not in readings:
            problems.append((f"{place}.body.number: takes back what is no earlier reading.",
                             "Name the number of a reading, part, photo or minutes before it."))
        if one.kind == "photo" and not all(
                DIGITS.fullmatch(one.body.get(name, "")) for name in ("width", "height")):
            problems.append((f"{place}.body: width and height are whole numbers.",
                             "Export the job again."))
    return problems
