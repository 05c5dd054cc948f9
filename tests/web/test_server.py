"""The program started as people start it: `loomwright serve` answers, and says where."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import urllib.request
from pathlib import Path


def test_serve_opens_the_demonstration_depot(tmp_path: Path) -> None:
    words = [sys.executable, "-m", "loomwright", "serve", "--demo", "--no-open", "--port", "0",
             "--data", str(tmp_path)]
    path = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen(words, stderr=subprocess.PIPE, text=True, env=path) as process:
        assert process.stderr is not None
        try:
            said = process.stderr.readline()
            address = re.search(r"http://localhost:[0-9]+/", said)
            assert address is not None, said
            page = urllib.request.urlopen(address[0], timeout=30).read().decode()
        finally:
            process.terminate()
    assert "Truck 7, rear-loader" in page
    assert (tmp_path / "jobs.sqlite").exists()
