"""The demonstration depot made once, and copied for each test that changes it."""

from __future__ import annotations

import functools
import shutil
import tempfile
from pathlib import Path

from loomwright.service.depot import create_depot, fill_depot
from loomwright.service.jobs import Workshop

TRUCK_9, TRUCK_4, TRUCK_7 = 1, 2, 3  # job numbers in the order the depot makes them


@functools.cache
def _made() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="depot-"))
    workshop = Workshop(folder)
    create_depot(workshop)
    fill_depot(workshop)
    workshop.close()
    return folder


def depot_in(folder: Path) -> Path:
    """Copy the depot into a folder of the test."""
    shutil.copytree(_made(), folder, dirs_exist_ok=True)
    return folder
