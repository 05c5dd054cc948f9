"""Words that are markup somewhere else, in every field of a job: they are only ever words."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import pytest

from loomwright.service.jobs import Workshop
from loomwright.web.permits import PERMITS
from tests.cli.running import DEMO_CIRCUIT
from tests.service.depot_folder import TRUCK_7
from tests.web.depot_client import TestClient, client_in

MARKUP = '<img src=x onerror=alert(1)>"\'&{{7*7}}</script></text></svg>'
TYPST = '#eval("1+1") *b* _i_ $x$ `r` @c <l> \\u{41} //c /*d*/ [e] ~'
ALERT = re.compile(r'role="alert".{0,400}', re.DOTALL)
CARD = ("customer", "phone", "address", "vehicle", "plate", "make", "system", "complaint", "when",
        "hot", "wet", "after")
WORDS = {  # address -> fields; each field carries the mark of its own name
    "told": ("text",), "minutes": ("work",), "parts": ("what",),
    "findings": ("cause", "correction", "remains"), "offer": ("note",), "answer": ("who", "note"),
}
FIXED = {"told": {"sort": "code", "about": "Y1", "result": "stored"}, "minutes": {"minutes": "5"},
         "parts": {"price": "1"}, "offer": {"form": "quote", "money": "10"},
         "answer": {"agreed": "yes"}, "findings": {}}


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with client_in(tmp_path) as found:
        yield found


def circuit_with(words: str) -> str:
    """Return the demonstration's circuit with hostile words wherever it takes free ones."""
    text = Path(DEMO_CIRCUIT).read_text(encoding="utf-8")
    quoted = "'" + words.replace("'", "''") + "'"
    text = re.sub(r"^title:.*$", lambda _: f"title: {quoted}", text, flags=re.MULTILINE)
    return re.sub(r"""label: ?("[^"]*"|'[^']*'|[^,}\n]+)""", lambda _: f"label: {quoted}", text)


def hostile_job(client: TestClient, words: str) -> int:
    """Return a job with such words in every field, each with the field's name before it."""
    new = client.post("/jobs", data={
        "key": "hostile-key", "circuit_text": circuit_with(words), "vehicle": f"vehicle {words}",
        "complaint": f"complaint {words}", "customer": f"customer {words}"})
    assert new.status_code == 303, ALERT.findall(new.text)
    job = int(new.headers["location"].rpartition("/")[2])
    client.cookies.set("who", "Isla%20" + "".join(f"%{ord(one):02X}" for one in words))
    card = {name: f"{name} {words}" for name in CARD}
    for address, names in (("card", CARD), *WORDS.items()):
        fields = card if address == "card" else {
            **FIXED[address], **{name: f"{name} {words}" for name in names}}
        sent = client.post(f"/jobs/{job}/{address}", data={"key": f"key-{address}", **fields})
        assert sent.status_code == 303, (address, ALERT.findall(sent.text))
    reading = {"state": "locking", "quantity": "voltage", "at": "S4.1", "value": "25.1 V"}
    assert client.post(f"/jobs/{job}/readings", data={"key": "key-read", **reading}
                       ).status_code == 303
    return job


def test_no_page_has_markup_of_a_field_in_it(client: TestClient) -> None:
    job = hostile_job(client, MARKUP)
    pages = [path for method, path in sorted(PERMITS) if method == "GET" and "{job_id}" in path
             and "/events" not in path and not re.search(r"\{(name|number|sha256)", path)]
    seen = 0
    for path in [*pages, "/", "/jobs/new", f"/?words={MARKUP}", f"/editor?job={job}", "/practice"]:
        answer = client.get(path.format(job_id=job))
        if not answer.headers["content-type"].startswith(("text/html", "image/svg")):
            continue
        seen += "&lt;img src=x" in answer.text
        assert "<img src=x" not in answer.text, path
        assert "49" not in re.findall(r"&amp;(\d+)", answer.text), path
        for drawing in re.findall(r"<svg .*?</svg>", answer.text, re.DOTALL):
            ElementTree.fromstring(drawing)  # whole, and closed where it ends
    assert seen >= 6


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not installed")
def test_letter_and_record_say_every_field_as_it_was_typed(client: TestClient) -> None:
    job = hostile_job(client, TYPST)
    said = ""
    for name in ("letter.pdf", "record.pdf"):
        made = client.get(f"/jobs/{job}/{name}")
        assert made.status_code == 200
        read = subprocess.run(["pdftotext", "-raw", "-", "-"], input=made.content, check=True,
                              capture_output=True)
        said += "".join(read.stdout.decode().replace("\u200b", "").split())
    typed = "".join(TYPST.split())
    for name in ("customer", "vehicle", "complaint", "what", "cause", "correction", "remains"):
        assert name + typed in said, name
    assert said.count(typed) >= 8
    assert "eval2" not in said


def test_a_search_takes_signs_of_the_store_s_language_as_they_are(client: TestClient) -> None:
    workshop: Workshop = client.app.state.workshop  # type: ignore[attr-defined]
    everything = len(workshop.store.jobs())
    for words in ("%", "_", "%%", "' OR 1=1 --", "\\", "[a-z]", "*", '"', "truck%", "t_uck",
                  "tail* NEAR lock"):  # no job has one of them
        found = client.get("/", params={"words": words})
        assert found.status_code == 200
        assert 'href="/jobs/1"' not in found.text, words
    assert len(workshop.store.jobs()) == everything
    assert client.get("/", params={"words": "TRUCK"}).text.count(f'href="/jobs/{TRUCK_7}"') >= 1


@pytest.mark.parametrize("title", [
    "a\r\nSet-Cookie: x=1", 'a"; filename="b.exe', "../../x", "é\u202e"])
def test_a_file_s_name_is_no_header(client: TestClient, title: str) -> None:
    answer = client.post("/editor/file", data={"circuit_text": f"title: {title}\nx: 1\n"})
    assert "set-cookie" not in answer.headers
    assert re.fullmatch(r'attachment; filename="[a-z0-9_]{1,40}\.yaml"',
                        answer.headers["content-disposition"])
