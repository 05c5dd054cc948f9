"""`people` and `token` as a foreman types them, on a depot's folder."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from loomwright.cli.entry import commands
from loomwright.errors import SignInError
from loomwright.service.access import Access
from tests.cli.running import run

pytestmark = pytest.mark.usefixtures("quick_pins")


@pytest.fixture
def depot(tmp_path: Path) -> Path:
    said = run("people", "add", "Morag Tulloch", "--role", "foreman", "--data", tmp_path, "--json")
    assert said.code == 0
    return tmp_path


def test_a_person_who_was_added_signs_in_with_the_pin_that_was_shown(depot: Path) -> None:
    said = run("people", "add", "Ailsa", "--role", "technician", "--data", depot, "--json").json
    access = Access(depot)
    session = access.sign_in(access.named("Ailsa").id, said["pin"])
    assert access.signed_in(session).role == "technician"
    assert access.changes()[0].by == "command line"
    access.close()
    assert "pin_hash" not in said["person"]


def lock_out(access: Access, person: int) -> None:
    """Type ten wrong PINs, with all the waits between them."""
    for hour in range(10):
        access.store.clock = lambda later=hour: datetime.now(UTC) + timedelta(hours=later)
        with pytest.raises(SignInError):
            access.sign_in(person, "wrong pin")


def test_a_lost_pin_is_replaced_and_a_lock_is_opened(depot: Path) -> None:
    access = Access(depot)
    morag = access.named("Morag Tulloch").id
    lock_out(access, morag)
    assert run("people", "list", "--data", depot, "--json").json["people"][0]["locked"]
    assert "locked" in run("people", "list", "--data", depot).out
    said = run("people", "reset-pin", "morag tulloch", "--data", depot)
    pin = said.out.split("PIN: ")[1].split()[0]
    assert access.sign_in(morag, pin)
    access.close()


def test_roles_change_but_a_foreman_stays(depot: Path) -> None:
    refused = run("people", "role", "Morag Tulloch", "apprentice", "--data", depot, "--json")
    assert (refused.code, refused.json["error"]["code"]) == (2, "conflict")
    run("people", "add", "Ailsa", "--role", "foreman", "--data", depot)
    changed = run("people", "role", "Morag Tulloch", "apprentice", "--data", depot)
    assert changed.out == "Morag Tulloch is now apprentice.\n"
    listed = run("people", "list", "--data", depot, "--json").json["people"]
    assert {one["name"]: one["role"] for one in listed} == {
        "Ailsa": "foreman", "Morag Tulloch": "apprentice"}


@pytest.mark.parametrize(("words", "code"), [
    (["people", "add", "Rory", "--role", "king"], "unknown-name"),
    (["people", "add", "MORAG tulloch", "--role", "foreman"], "conflict"),
    (["people", "add", " ", "--role", "foreman"], "usage"),
    (["people", "role", "Nobody", "foreman"], "unknown-name"),
    (["people", "reset-pin", "Morag Tullock"], "unknown-name"),
    (["token", "create", "stock", "--scope", "admin"], "unknown-name"),
    (["token", "revoke", "7"], "not-found"),
])
def test_what_cannot_be_is_bad_input(depot: Path, words: list[str], code: str) -> None:
    said = run(*words, "--data", depot, "--json")
    assert (said.code, said.json["error"]["code"]) == (2, code)


@pytest.mark.parametrize(("typed", "code"), [("48 wide\n48 wide\n", 0), ("123456\n123456\n", 1)])
def test_a_pin_can_be_typed_unseen(depot: Path, typed: str, code: int) -> None:
    said = CliRunner().invoke(commands, ["people", "add", "Rory", "--role", "apprentice",
                                         "--ask-pin", "--data", str(depot)], input=typed)
    assert said.exit_code == code
    assert "48 wide" not in said.output


def test_a_token_works_until_it_is_revoked(depot: Path) -> None:
    assert run("token", "list", "--data", depot).out.startswith("No tokens.")
    made = run("token", "create", "stock list", "--scope", "write", "--data", depot, "--json").json
    access = Access(depot)
    assert access.program(made["token"]).role == "write"
    listed = run("token", "list", "--data", depot)
    assert "stock list" in listed.out
    assert made["token"] not in listed.out
    as_json = run("token", "list", "--data", depot, "--json").json["tokens"]
    assert [(one["id"], one["scope"]) for one in as_json] == [(made["id"], "write")]
    assert "hash" not in str(as_json)
    assert run("token", "revoke", made["id"], "--data", depot).code == 0
    with pytest.raises(SignInError):
        access.program(made["token"])
    access.close()


def test_read_is_the_scope_of_a_token_where_none_is_named(depot: Path) -> None:
    said = run("token", "create", "wall screen", "--data", depot)
    assert "scope read" in said.out
    assert said.out.splitlines()[-1].startswith("lwt_")
    assert "No tokens" not in run("token", "list", "--data", depot).out


def test_nobody_is_said_in_words(tmp_path: Path) -> None:
    assert run("people", "list", "--data", tmp_path).out.startswith("Nobody yet.")
