"""Amounts as typed and shown, tax, and the workshop's settings."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.errors import ConflictError, UsageError
from loomwright.jobs.rates import Rates, rates_history
from loomwright.service.jobs import Workshop
from loomwright.service.money import amount, canonical, money_words, taxed, two_places
from loomwright.service.office import Sender
from loomwright.service.rates import rates, save_rates


@pytest.mark.parametrize(("text", "value"), [
    ("12.50", "12.50"), ("12,5", "12.5"), (" 1 200 ", "1200"), ("0", "0"), ("", ""), ("  ", ""),
    ("\u0661\u0662", "12")])  # digits of other scripts become ours
def test_what_can_be_typed(text: str, value: str) -> None:
    assert canonical(text, "price") == value


@pytest.mark.parametrize("text", ["-1", "1e5", "1.2.3", "abc", "12 EUR", "NaN", "1,234.50", "0x1",
                                  "10000000.1", "9" * 20])
def test_what_cannot(text: str) -> None:
    with pytest.raises(UsageError):
        amount(text, "price")


def test_halves_go_up_and_the_tax_is_rounded_once() -> None:
    assert two_places(Decimal("0.125")) == Decimal("0.13")
    assert two_places(2.675) == Decimal("2.68")  # as printed, not as the binary number below it
    found = taxed(Decimal("0.10") * 3, Decimal("17.5"))
    assert (found.net, found.tax, found.gross) == (Decimal("0.30"), Decimal("0.05"),
                                                   Decimal("0.35"))  # 5.25 cents of tax


@given(st.decimals(0, 10**6, places=4), st.decimals(0, 100, places=2))
def test_sum_and_tax_add_up_exactly(net: Decimal, percent: Decimal) -> None:
    found = taxed(net, percent)
    assert found.gross == found.net + found.tax
    assert abs(found.net - net) <= Decimal("0.005")  # half a hundredth: the rounding


def test_thousands_are_parted_and_the_currency_follows() -> None:
    assert money_words(Decimal("1234567.5"), "EUR") == "1\u202f234\u202f567.50 EUR"
    assert money_words(3, "") == "3.00"


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    return Workshop(tmp_path)


def test_settings_are_assumed_until_entered_and_those_of_before_stay(workshop: Workshop) -> None:
    assert rates(workshop) == Rates()
    assert rates(workshop).assumed
    save_rates(workshop, {"labour_rate_per_h": "88,5", "currency": " EUR "}, Sender("first-key"))
    save_rates(workshop, {"tax_percent": "20"}, Sender("second-key", "Isla"))
    now = rates(workshop)
    assert (now.labour_rate_per_h, now.currency, now.tax_percent) == ("88.5", "EUR", "20")
    assert not now.assumed
    history = rates_history(workshop.store)
    assert [one.body["tax_percent"] for one in history] == ["0", "20"]
    assert history[-1].by == "Isla"


def test_the_same_settings_sent_twice_count_once(workshop: Workshop) -> None:
    for _ in range(2):
        save_rates(workshop, {"currency": "EUR"}, Sender("first-key"))
    assert len(rates_history(workshop.store)) == 1
    with pytest.raises(ConflictError):
        save_rates(workshop, {"currency": "GBP"}, Sender("first-key"))


@pytest.mark.parametrize("fields", [
    {"tax_percent": "100.1"}, {"labour_rate_per_h": "0"}, {"labour_rate_per_h": ""},
    {"name": "x" * 401}, {"limit_money": "many"}])
def test_settings_that_cannot_be(workshop: Workshop, fields: dict[str, str]) -> None:
    with pytest.raises(UsageError):
        save_rates(workshop, fields, Sender("first-key"))
    assert rates(workshop).assumed
