"""`loomwright serve` as a process: it listens, answers, and stops with Ctrl-C."""

import os
import re
import signal
import subprocess
import sys
import urllib.request

from tests.cli.running import REPOSITORY, run, run_process

ADDRESS = re.compile(r"http://localhost:\d+/")


def test_it_answers_and_stops_with_ctrl_c(tmp_path):
    command = [sys.executable, "-m", "loomwright.cli", "serve", "--no-open", "--port", "0",
               "--data", str(tmp_path / "jobs")]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONPATH": str(REPOSITORY / "src")},
        # tests started in the background of a shell have Ctrl-C ignored, and would pass that on
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    ) as process:
        try:
            assert process.stderr is not None
            said = process.stderr.readline()
            found = ADDRESS.search(said)
            assert found is not None, said + process.stderr.read()
            with urllib.request.urlopen(found[0], timeout=30) as page:
                assert page.status == 200
                assert b"<html" in page.read()
            process.send_signal(signal.SIGINT)
            code = process.wait(timeout=30)
            rest = process.stderr.read()
        finally:
            process.kill()
    assert code == 130
    assert "Traceback" not in rest


def test_a_port_that_is_none_is_refused():
    said = run("serve", "--port", "99999", "--json")
    assert said.code == 2
    assert "99999" in said.json["error"]["message"]


def test_an_address_that_is_not_here_is_refused(tmp_path):
    # 192.0.2.1 is kept for documentation (RFC 5737), so no machine has it.
    said = run("serve", "--no-open", "--host", "192.0.2.1", "--data", tmp_path, "--json")
    assert said.code == 2
    assert "192.0.2.1" in said.json["error"]["message"]


def test_a_data_folder_that_is_a_file_is_refused(tmp_path):
    file = tmp_path / "jobs"
    file.write_text("", encoding="utf-8")
    said = run_process("serve", "--no-open", "--port", 0, "--data", file, "--json")
    assert said.code == 2
    assert "jobs" in said.json["error"]["message"]
