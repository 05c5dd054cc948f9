"""`loomwright settings`: who letters are from, shown and changed in the terminal."""

from __future__ import annotations

from pathlib import Path

from tests.cli.running import run


def test_the_sender_is_set_and_shown(tmp_path: Path) -> None:
    assert run("settings", "--data", tmp_path).code == 2  # there is no workshop yet
    said = run("settings", "--name", "Brae garage", "--telephone", "0555 7", "--data", tmp_path)
    assert said.code == 0
    assert "Letter and record lack the workshop's own address." in said.out
    assert "90 (assumed)" in said.out
    found = run("settings", "--address", "Shore 1", "--dates", "month first", "--data", tmp_path,
                "--json").json
    assert (found["name"], found["address"], found["phone"]) == ("Brae garage", "Shore 1", "0555 7")
    assert found["date_order"] == "month first"
    assert found["assumed"] is True  # the labour rate is nobody's own yet
    own = run("settings", "--labour-rate", "75,50", "--data", tmp_path)
    assert "75.50" in own.out
    assert "assumed" not in own.out
    assert "lack" not in own.out


def test_what_cannot_be_set_is_refused(tmp_path: Path) -> None:
    wrong = run("settings", "--dates", "month frist", "--data", tmp_path)
    assert wrong.code == 2
    assert "month first" in wrong.err
    assert run("settings", "--tax-rate", "plenty", "--data", tmp_path).code == 2
