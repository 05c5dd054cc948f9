"""What holds customers and the hashes of PINs is its owner's alone, whatever the umask says."""

from __future__ import annotations

import io
import os
import stat
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

from loomwright.jobs import folder as folders
from loomwright.jobs.database import FILE
from loomwright.jobs.folder import data_folder, tighten
from loomwright.service.safekeeping import backup, restore
from tests.cli.running import DEMO_CIRCUIT, run
from tests.service.depot_folder import TRUCK_7, depot_in

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="rights of another sort there")


@pytest.fixture(autouse=True)
def open_umask() -> Iterator[None]:
    before = os.umask(0)
    yield
    os.umask(before)


def rights(path: Path) -> int:
    """Return who may do what with a file."""
    return stat.S_IMODE(path.stat().st_mode)


def test_a_new_store_and_one_of_an_earlier_version_are_their_owner_s(tmp_path: Path) -> None:
    from loomwright.jobs.store import JobStore

    store = JobStore(data_folder(tmp_path / "new"))
    assert rights(tmp_path / "new") == 0o700
    for file in (tmp_path / "new").iterdir():
        assert rights(file) == 0o600, file
    store.close()
    (tmp_path / "new" / FILE).chmod(0o644)
    JobStore(tmp_path / "new").close()
    assert rights(tmp_path / "new" / FILE) == 0o600


def test_a_folder_that_the_user_named_keeps_its_rights_and_ours_is_tightened(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "loomwright").mkdir(mode=0o755)
    data_folder(tmp_path / "loomwright")
    assert rights(tmp_path / "loomwright") == 0o755
    monkeypatch.setattr(folders, "_platform_folder", lambda: tmp_path)
    assert data_folder() == tmp_path / "loomwright"
    assert rights(tmp_path / "loomwright") == 0o700


def test_photos_backups_and_what_comes_out_of_them(tmp_path: Path) -> None:
    from loomwright.service.jobs import Workshop
    from loomwright.service.office import Sender
    from loomwright.service.photos import PhotoForm, add_photo

    workshop = Workshop(depot_in(tmp_path / "data"))
    out = io.BytesIO()
    Image.new("RGB", (8, 8), "red").save(out, "PNG")
    add_photo(workshop, TRUCK_7, PhotoForm(out.getvalue()), Sender("photo-key-1", "Isla"))
    workshop.close()
    backup(tmp_path / "all.zip", tmp_path / "data")
    assert rights(tmp_path / "all.zip") == 0o600
    restore(tmp_path / "all.zip", tmp_path / "again")
    for path in (*(tmp_path / "data" / "photos").rglob("*"), tmp_path / "again",
                 *(tmp_path / "again").rglob("*")):
        assert rights(path) == (0o700 if path.is_dir() else 0o600), path


def test_a_job_written_out_is_its_owner_s_and_a_drawing_is_not(tmp_path: Path) -> None:
    depot = depot_in(tmp_path / "data")
    for words, name in ((("export", str(TRUCK_7)), "job.json"), (("csv", str(TRUCK_7)), "job.csv")):
        (tmp_path / name).write_text("old", encoding="utf-8")
        said = run("job", *words, "--data", depot, "-o", tmp_path / name, "--force")
        assert said.code == 0
        assert rights(tmp_path / name) == 0o600, name
    assert run("draw", DEMO_CIRCUIT, "-o", tmp_path / "lock.svg").code == 0
    assert rights(tmp_path / "lock.svg") == 0o666  # as the umask has it


def test_where_rights_cannot_be_set_nothing_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    tighten(tmp_path / "not there")
    (tmp_path / "file").touch()
    (tmp_path / "file").chmod(0o644)
    monkeypatch.setattr(folders.sys, "platform", "win32")
    tighten(tmp_path / "file")
    assert rights(tmp_path / "file") == 0o644
