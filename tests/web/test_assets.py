"""Our own files: kept for good under their version, asked for again without it."""

from __future__ import annotations

import gzip
import re
from pathlib import Path

from loomwright.web.assets import FOLDER, static
from tests.web.depot_client import client_in


def test_a_file_is_kept_for_good_under_its_version(tmp_path: Path) -> None:
    client = client_in(tmp_path)
    kept = client.get(static("app.css"))
    assert kept.headers["cache-control"] == "private, max-age=31536000, immutable"
    assert kept.text == (FOLDER / "app.css").read_text(encoding="utf-8")
    for address in ("/static/app.css", "/static/app.css?v=other"):
        assert client.get(address).headers["cache-control"] == "no-cache"


def test_what_the_browser_has_is_not_sent_again(tmp_path: Path) -> None:
    client = client_in(tmp_path)
    tag = client.get("/static/app.css").headers["etag"]
    answer = client.get("/static/app.css", headers={"if-none-match": tag})
    assert (answer.status_code, answer.content) == (304, b"")


def test_a_file_is_sent_packed_where_the_browser_can_unpack(tmp_path: Path) -> None:
    client = client_in(tmp_path)
    with client.stream("GET", "/static/bench.js", headers={"accept-encoding": "gzip"}) as answer:
        assert answer.headers["content-encoding"] == "gzip"
        packed = b"".join(answer.iter_raw())
    plain = client.get("/static/bench.js", headers={"accept-encoding": "identity"})
    assert "content-encoding" not in plain.headers
    assert gzip.decompress(packed) == plain.content


def test_scripts_ask_for_one_another_by_the_address_that_pages_use(tmp_path: Path) -> None:
    client = client_in(tmp_path)
    for name in ("editor.js", "live.js"):
        asked = re.findall(r'from "\./(.*?)"', client.get(f"/static/{name}").text)
        assert [f"/static/{one}" for one in asked] == [static("bench.js")]


def test_only_our_files_are_below_static(tmp_path: Path) -> None:
    client = client_in(tmp_path)
    for address in ("/static/", "/static/nothing.css", "/static/../app.py", "/static/app.css/more"):
        assert client.get(address).status_code in {307, 404}, address
    assert client.post("/static/app.css", headers={"origin": "http://testserver"}
                       ).status_code in {400, 403, 405}
