"""People, PINs with lock-out, sessions, devices, tokens: what holds, whatever the screen does."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from loomwright.errors import (
    ConflictError,
    SignInError,
    TooManyTriesError,
    UnknownNameError,
    UsageError,
)
from loomwright.jobs.access_records import MAX_TRIES, wait_after_s
from loomwright.service.access import DEVICE_IDLE, IDLE, LONGEST, Access
from loomwright.service.pins import check_pin, hash_pin, made_up_pin
from loomwright.service.roles import ROLES, SCOPES, Permission

PIN, OTHER = "48 wide", "73912 b"
pytestmark = pytest.mark.usefixtures("quick_pins")


class Clock:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.now = datetime(2026, 3, 2, 8, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def on(self, **some: float) -> None:
        """Let time pass."""
        self.now += timedelta(**some)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def access(tmp_path: Path, clock: Clock) -> Iterator[Access]:
    found = Access(tmp_path, clock)
    found.add("Morag Tulloch", "foreman", PIN, "")
    yield found
    found.close()


def test_a_right_pin_opens_a_session_and_a_wrong_one_does_not(access: Access) -> None:
    morag = access.named("morag  tulloch")
    actor = access.signed_in(access.sign_in(morag.id, PIN))
    assert (actor.name, actor.role, actor.kind) == ("Morag Tulloch", "foreman", "person")
    with pytest.raises(SignInError):
        access.sign_in(morag.id, "48 wyde")
    with pytest.raises(SignInError):
        access.sign_in(99, PIN)
    assert not access.signed_in("made up").known
    assert not access.signed_in("").known


def test_each_sign_in_has_its_own_secret(access: Access) -> None:
    morag = access.named("Morag Tulloch")
    first, second = access.sign_in(morag.id, PIN), access.sign_in(morag.id, PIN)
    assert first != second
    access.sign_out(first)
    assert not access.signed_in(first).known
    assert access.signed_in(second).known
    access.sign_out_everywhere(morag.id)
    assert not access.signed_in(second).known


def test_no_secret_stands_in_the_store(access: Access, tmp_path: Path) -> None:
    morag = access.named("Morag Tulloch")
    secrets = [access.sign_in(morag.id, PIN), access.add_device("tablet")[1],
               access.add_token("stock list", "read", "Morag")[1], PIN]
    access.close()
    with sqlite3.connect(tmp_path / "jobs.sqlite") as raw:
        text = "\n".join(raw.iterdump())
    raw.close()
    assert "$argon2id$" in text
    assert [one for one in secrets if one in text] == []


@pytest.mark.parametrize("pin", ["", "12345", "111111", "123456", "987654", "121212", "x" * 129])
def test_an_easy_pin_is_refused(access: Access, pin: str) -> None:
    with pytest.raises(UsageError):
        access.add("Second", "technician", pin, "")


def test_a_hash_is_by_argon2id_with_much_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()  # the real, slow one
    made = hash_pin(PIN)
    assert made.startswith("$argon2id$v=19$m=65536,")  # 64 MiB: RFC 9106, second choice
    assert check_pin(made, PIN)
    assert not check_pin(made, PIN + " ")
    assert not check_pin("no hash", PIN)


@pytest.mark.parametrize("words", ["m=2147483647,t=1,p=1", "m=8,t=4294967295,p=1", "m=x", ""])
def test_a_hash_that_asks_for_all_the_memory_or_time_is_none(words: str) -> None:
    made = f"$argon2id$v=19${words}$c2FsdHNhbHRzYWx0$aGFzaGhhc2hoYXNoaGFzaA"
    assert not check_pin(made, PIN)
    assert not check_pin(words, PIN)


def test_made_up_pins_are_taken(access: Access) -> None:
    assert access.add("Second", "technician", made_up_pin(), "").role == "technician"


def test_wrong_pins_wait_longer_and_longer_and_then_lock(access: Access, clock: Clock) -> None:
    morag = access.named("Morag Tulloch")
    for number in range(1, MAX_TRIES + 1):
        with pytest.raises(SignInError):
            access.sign_in(morag.id, "wrong pin")
        wait_s = wait_after_s(number)
        if wait_s and number < MAX_TRIES:
            clock.on(seconds=wait_s - 1)
            with pytest.raises(TooManyTriesError) as too_early:  # the right one waits as well
                access.sign_in(morag.id, PIN)
            assert too_early.value.wait_s == 1
            clock.on(seconds=2)
    clock.on(days=30)
    with pytest.raises(TooManyTriesError, match="locked"):
        access.sign_in(morag.id, PIN)
    access.unlock(morag.id, "")
    assert access.sign_in(morag.id, PIN)


def guess(access: Access, clock: Clock, person: int, device: int, times: int = MAX_TRIES) -> None:
    """Type wrong PINs on a device, with all the waits between them."""
    for _ in range(times):
        with pytest.raises(SignInError):
            access.sign_in(person, "wrong pin", device)
        clock.on(hours=1)


def test_who_guesses_on_one_device_keeps_nobody_out_elsewhere(access: Access, clock: Clock) -> None:
    morag = access.named("Morag Tulloch").id
    hers, other, new = (access.add_device(name)[0].id for name in ("hers", "other", "new"))
    assert access.sign_in(morag, PIN, hers)
    guess(access, clock, morag, other)
    with pytest.raises(TooManyTriesError, match="locked on this device"):
        access.sign_in(morag, PIN, other)
    assert access.named("Morag Tulloch").locked_on == ("other",)
    assert "locked on other" in access.changes()[0].what  # a foreman sees that somebody guesses
    assert access.sign_in(morag, PIN, hers)  # and that gives the guesser nothing
    assert access.sign_in(morag, PIN, new)
    with pytest.raises(TooManyTriesError, match="locked"):
        access.sign_in(morag, PIN, other)
    access.unlock(morag, "Second")
    assert access.sign_in(morag, PIN, other)
    assert not access.named("Morag Tulloch").locked


def test_guessing_from_several_new_devices_is_slowed_together(access: Access, clock: Clock) -> None:
    morag = access.named("Morag Tulloch").id
    hers = access.add_device("hers")[0].id
    assert access.sign_in(morag, PIN, hers)
    for number in range(1, 9):
        device = access.add_device(f"new {number}")[0].id
        if wait_after_s(number - 1):  # a device of its own gains nothing
            with pytest.raises(TooManyTriesError):
                access.sign_in(morag, PIN, device)
            clock.on(seconds=wait_after_s(number - 1) + 1)
        with pytest.raises(SignInError):
            access.sign_in(morag, "wrong pin", device)
        assert access.sign_in(morag, PIN, hers)  # whom it is about never waits where they work
    with pytest.raises(TooManyTriesError):
        access.sign_in(morag, PIN, access.add_device("new 9")[0].id)
    access.set_pin(morag, OTHER, "Second")
    assert access.sign_in(morag, OTHER, access.add_device("new 10")[0].id)


def test_guessing_at_nobody_is_slowed_as_well(access: Access, clock: Clock) -> None:
    device = access.add_device("tablet")[0].id
    for number in (99, 98, 97):  # each costs a slow hash
        with pytest.raises(SignInError):
            access.sign_in(number, PIN, device)
    with pytest.raises(TooManyTriesError):
        access.sign_in(96, PIN, device)
    assert access.sign_in(access.named("Morag Tulloch").id, PIN, device)


def test_a_right_pin_clears_the_count(access: Access) -> None:
    morag = access.named("Morag Tulloch")
    for _ in range(2 * MAX_TRIES):
        with pytest.raises(SignInError):
            access.sign_in(morag.id, "wrong pin")
        assert access.sign_in(morag.id, PIN)


def test_the_count_of_wrong_pins_survives_a_restart(
    access: Access, clock: Clock, tmp_path: Path
) -> None:
    morag = access.named("Morag Tulloch")
    for _ in range(3):
        with pytest.raises(SignInError):
            access.sign_in(morag.id, "wrong pin")
    again = Access(tmp_path, clock)
    with pytest.raises(TooManyTriesError):
        again.sign_in(morag.id, PIN)
    again.close()


def test_many_tries_at_once_gain_nothing(access: Access) -> None:
    morag = access.named("Morag Tulloch")

    def attempt(number: int) -> type[Exception]:
        with pytest.raises((SignInError, TooManyTriesError)) as refused:
            access.sign_in(morag.id, f"wrong {number:04d}")
        return refused.type

    with ThreadPoolExecutor(8) as pool:
        kinds = list(pool.map(attempt, range(16)))
    assert kinds.count(SignInError) == 3  # the third wrong one starts the wait


def test_a_session_ends_when_idle_and_after_its_longest(access: Access, clock: Clock) -> None:
    morag = access.named("Morag Tulloch")
    idle = access.sign_in(morag.id, PIN)
    clock.on(hours=IDLE / timedelta(hours=1) + 0.1)
    assert not access.signed_in(idle).known
    busy, spent = access.sign_in(morag.id, PIN), timedelta()
    while spent < LONGEST:
        assert access.signed_in(busy).known
        clock.on(hours=1)
        spent += timedelta(hours=1)
    clock.on(minutes=1)
    assert not access.signed_in(busy).known


def test_a_session_is_good_on_its_device_only(access: Access) -> None:
    morag = access.named("Morag Tulloch")
    tablet, secret = access.add_device("tablet")
    session = access.sign_in(morag.id, PIN, tablet.id)
    assert access.device(secret) == tablet.id
    assert access.signed_in(session, tablet.id).known
    assert not access.signed_in(session, tablet.id + 1).known
    access.end_device(tablet.id, "Morag")
    assert access.device(secret) == 0
    assert not access.signed_in(session, tablet.id).known


def test_a_device_not_seen_for_long_is_forgotten(access: Access, clock: Clock) -> None:
    secret = access.add_device("tablet")[1]
    clock.now += DEVICE_IDLE + timedelta(days=1)
    assert access.device(secret) == 0


@pytest.mark.parametrize("change", ["role", "pin", "left"])
def test_a_change_of_role_or_pin_ends_sessions(access: Access, change: str) -> None:
    person = access.add("Second", "technician", OTHER, "")
    session = access.sign_in(person.id, OTHER)
    {"role": lambda: access.set_role(person.id, "apprentice", ""),
     "pin": lambda: access.set_pin(person.id, PIN, ""),
     "left": lambda: access.leave(person.id, "")}[change]()
    assert not access.signed_in(session).known


def test_who_left_cannot_sign_in_until_they_come_back(access: Access) -> None:
    person = access.add("Second", "technician", OTHER, "")
    access.leave(person.id, "Morag")
    with pytest.raises(SignInError):
        access.sign_in(person.id, OTHER)
    assert [one.name for one in access.people()] == ["Morag Tulloch"]
    access.come_back(person.id, "Morag")
    assert access.sign_in(person.id, OTHER)


def test_the_last_foreman_stays(access: Access) -> None:
    morag = access.named("Morag Tulloch")
    with pytest.raises(ConflictError):
        access.set_role(morag.id, "apprentice", "")
    with pytest.raises(ConflictError):
        access.leave(morag.id, "")
    access.add("Second", "foreman", OTHER, "")
    access.set_role(morag.id, "apprentice", "")
    assert access.named("Morag Tulloch").role == "apprentice"


def test_names_are_one_each_and_roles_are_known(access: Access) -> None:
    with pytest.raises(ConflictError):
        access.add("morag TULLOCH", "foreman", OTHER, "")
    with pytest.raises(UnknownNameError):
        access.add("Second", "king", OTHER, "")
    with pytest.raises(UsageError):
        access.add(" ", "foreman", OTHER, "")
    with pytest.raises(UsageError):
        access.add("\x00x", "foreman", OTHER, "")
    with pytest.raises(ConflictError):
        access.add("Second", "foreman", OTHER, "", first=True)


def test_tokens_carry_their_scope_until_revoked(access: Access) -> None:
    token, secret = access.add_token("stock list", "read", "Morag")
    actor = access.program(secret)
    assert (actor.name, actor.kind) == ("stock list (program)", "program")
    assert actor.permissions == {Permission.LOOK}
    access.end_token(token.id, "Morag")
    with pytest.raises(SignInError):
        access.program(secret)
    with pytest.raises(UnknownNameError):
        access.add_token("all", "admin", "")


def test_every_change_is_kept_with_who(access: Access, tmp_path: Path) -> None:
    person = access.add("Second", "technician", OTHER, "Morag Tulloch")
    access.set_role(person.id, "apprentice", "Morag Tulloch")
    lines = [(one.by, one.what, one.about) for one in access.changes()]
    assert lines[:2] == [("Morag Tulloch", "role is now apprentice", "Second"),
                         ("Morag Tulloch", "added as technician", "Second")]
    with sqlite3.connect(tmp_path / "jobs.sqlite") as raw, pytest.raises(sqlite3.IntegrityError):
        raw.execute("UPDATE access_log SET by = 'nobody'")
    raw.close()


def test_roles_grow_and_programs_never_manage() -> None:
    assert ROLES["apprentice"] < ROLES["technician"] < ROLES["foreman"]
    for held in (Permission.REPAIR, Permission.APPROVE, Permission.FINISH):
        assert held not in ROLES["apprentice"]
    for held in (Permission.MANAGE, Permission.APPROVE, Permission.SIGN_OFF):
        assert held not in SCOPES["write"]
    for held in (Permission.MANAGE, Permission.SIGN_OFF, Permission.PRACTISE):
        assert held not in SCOPES["office"]
