"""Files that a job's page offers."""

from __future__ import annotations

from pathlib import Path

from loomwright.jobs.job_file import read_job_file
from tests.service.depot_folder import TRUCK_7
from tests.web.depot_client import client_in


def test_the_page_offers_the_whole_job(tmp_path: Path) -> None:
    client = client_in(tmp_path)
    assert f'href="/jobs/{TRUCK_7}/job.json"' in client.get(f"/jobs/{TRUCK_7}").text
    given = client.get(f"/jobs/{TRUCK_7}/job.json")
    assert given.headers["content-disposition"] == f'attachment; filename="job-{TRUCK_7}.json"'
    assert read_job_file(given.text).job.number == TRUCK_7
    assert client.get("/jobs/99/job.json").status_code == 404


def test_the_page_offers_minutes_and_parts(tmp_path: Path) -> None:
    client = client_in(tmp_path)
    assert f'href="/jobs/{TRUCK_7}/job.csv"' in client.get(f"/jobs/{TRUCK_7}").text
    given = client.get(f"/jobs/{TRUCK_7}/job.csv")
    assert given.headers["content-type"] == "text/csv; charset=utf-8"
    assert given.text.startswith("job,customer,vehicle,plate,at,by,line,what,minutes")
