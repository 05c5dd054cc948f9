"""Vehicle identification numbers: form by ISO 3779, check digit by 49 CFR 565.15."""

from __future__ import annotations

from pathlib import Path

import pytest

from loomwright.errors import UsageError
from loomwright.jobs.records import Complaint, NewJob, Vehicle
from loomwright.jobs.store import JobStore
from loomwright.jobs.vin import check_digit, clean_vin, vin_warning
from tests.jobs.old_store import old_job, store_at

# From memory: worked examples in wide use for this check; the first has the check digit X.
EXAMPLES = ["1M8GDM9AXKP042788", "11111111111111111", "5GZCZ43D13S812715"]


@pytest.mark.parametrize("vin", EXAMPLES)
def test_published_examples_have_their_check_digit(vin: str) -> None:
    assert check_digit(vin) == vin[8]
    assert vin_warning(vin) == ""


@pytest.mark.parametrize("vin", EXAMPLES)
def test_one_wrong_digit_is_noticed(vin: str) -> None:
    other = vin[:16] + ("3" if vin[16] != "3" else "4")  # weight 2: always another sum modulo 11
    assert "position 9" in vin_warning(other)


def test_nothing_is_said_where_no_check_digit_is_due() -> None:
    assert vin_warning("WAAZZZ8E17A000000") == ""  # made up, European first character
    assert vin_warning("") == ""


def test_typing_is_forgiven() -> None:
    assert clean_vin(" 1m8gdm9a-xkp042788 ") == EXAMPLES[0]
    assert clean_vin("  ") == ""


@pytest.mark.parametrize(("text", "words"), [
    ("1M8GDM9AXKP04278", "16 characters"), ("1M8GDM9AXKP0427880", "18 characters"),
    ("1M8GDM9AXKPO42788", "has O"), ("IM8GDM9AXKPQ42788", "has I, Q"),
    ("1M8GDM9AXKP04278!", "has !"), ("١M8GDM9AXKP042788", "signs are not used")])
def test_another_form_is_refused(text: str, words: str) -> None:
    with pytest.raises(UsageError, match=words):
        clean_vin(text)


def test_a_store_of_before_gets_the_column_and_keeps_its_jobs(tmp_path: Path) -> None:
    old_job(store_at(tmp_path, "0001"))
    again = JobStore(tmp_path)
    assert again.job(1).vehicle == Vehicle("Truck 7", "", "")
    second = again.add_job(NewJob("", Vehicle("Van", "", EXAMPLES[0]), "", Complaint("dark"),
                                  "text"), "job-key-2")
    assert again.job(second.id).vehicle.vin == EXAMPLES[0]
