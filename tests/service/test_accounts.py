"""The table for an accounts program: minutes add up, parts have a price, nothing is a formula."""

from __future__ import annotations

import csv
import dataclasses
import io
from pathlib import Path

import pytest

from loomwright.errors import NotFoundError, UnknownNameError
from loomwright.service.accounts import COLUMNS, STARTS, accounts_csv, safe_cell
from loomwright.service.jobs import Workshop
from loomwright.service.office import Sender, answer, change_card, clock_minutes, use_part
from loomwright.service.quote import give_offer
from loomwright.service.rates import save_rates
from loomwright.service.records import JobForm, ReadingForm
from tests.cli.running import run
from tests.service.depot_folder import TRUCK_4, TRUCK_7, depot_in

VOLTS = ReadingForm("on the road", "voltage", "S4.1", value="25.1")  # a state not set before


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    return Workshop(depot_in(tmp_path))


def rows(text: str, separator: str = ",") -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text), delimiter=separator))


def test_a_place_is_paid_once_and_the_repair_is_a_line(workshop: Workshop) -> None:
    found = rows(accounts_csv(workshop, TRUCK_4))
    assert tuple(found[0]) == COLUMNS
    repair = workshop.opened(TRUCK_4)[2].repairs["clean E2"]
    assert [float(one["minutes"]) for one in found if one["what"] == repair.text] == [
        pytest.approx(repair.minutes, abs=0.005)]  # printed with two digits
    assert len([one for one in found if one["line"] == "labour"]) == 1 + len(
        workshop.opened(TRUCK_4)[1].readings)
    assert all("not clocked" in one["basis"] for one in found)


def test_the_same_reading_again_costs_no_second_way(workshop: Workshop) -> None:
    workshop.add_reading(TRUCK_7, VOLTS, "volts-key-1")
    number = workshop.add_reading(TRUCK_7, VOLTS, "volts-key-2")
    workshop.withdraw(TRUCK_7, number, "withdraw-key")
    first, second = rows(accounts_csv(workshop, TRUCK_7))[-2:]  # taken back is still work
    plant = workshop.opened(TRUCK_7)[2].plant
    check = plant.check_for("on the road", "voltage", "S4.1", "", "meter")
    assert float(second["minutes"]) == pytest.approx(check.minutes, abs=0.005)  # two digits
    assert float(first["minutes"]) > float(second["minutes"])


def test_a_part_has_its_price(workshop: Workshop) -> None:
    bench = workshop.opened(TRUCK_7)[2]
    dear = max(bench.repairs.values(), key=lambda one: one.price)
    workshop.record_repair(TRUCK_7, (dear.id, ""), "repair-key")
    part = rows(accounts_csv(workshop, TRUCK_7, "semicolon"), ";")[-1]
    assert (part["line"], part["quantity"]) == ("part", "1")
    assert part["price"] == f"{dear.price:.2f}".replace(".", ",")


@pytest.mark.parametrize("text", [
    "=1+1", "+1", "-1", "@x", "\t=1", " =1", "\r\n=1", "|x", "%x", "＝1", "\u00a0=1"])
def test_no_cell_is_a_formula(workshop: Workshop, text: str) -> None:
    assert safe_cell(text).startswith("'")
    job = workshop.create_job(JobForm(text, text, text, "", "dark", "", copy_from=TRUCK_7),
                              "new-key-1")
    workshop.add_reading(job.id, dataclasses.replace(VOLTS), "volts-key", text)
    row = rows(accounts_csv(workshop, job.id))[0]
    assert {row[name][0] for name in ("customer", "vehicle", "plate", "by")} == {"'"}


def test_numbers_have_one_decimal_sign_and_the_agreed_price_is_told(workshop: Workshop) -> None:
    sender = [Sender(f"accounts-{number}") for number in range(6)]
    use_part(workshop, TRUCK_7, {"what": "Wire", "quantity": "1.5", "price": "2,25"}, sender[0])
    clock_minutes(workshop, TRUCK_7, ("12,5", "looking"), sender[1])
    save_rates(workshop, {"labour_rate_per_h": "96", "tax_percent": "20", "currency": "=GBP"},
               sender[2])
    change_card(workshop, TRUCK_7, {"odometer": "=HYPERLINK(A1)"}, sender[3])
    part, labour = rows(accounts_csv(workshop, TRUCK_7))
    assert (part["quantity"], part["price"], part["amount"]) == ("1.5", "2.25", "3.38")
    assert (labour["minutes"], labour["amount"], labour["tax_percent"]) == (
        "12.50", "20.00", "20.00")  # 12.5 min at 96 an hour
    assert {part["currency"], part["odometer"]} == {"'=GBP", "'=HYPERLINK(A1)"}
    assert part["price_agreed"] == ""
    give_offer(workshop, TRUCK_7, {"form": "quote", "money": "180.5"}, sender[4])
    answer(workshop, TRUCK_7, {"agreed": "yes", "who": "Mr Ross"}, sender[5])
    comma = rows(accounts_csv(workshop, TRUCK_7, "semicolon"), ";")
    assert [one["price_agreed"] for one in comma] == ["180,50", "180,50"]
    assert (comma[0]["quantity"], comma[0]["price"]) == ("1,5", "2,25")
    numbers = [comma[0][name] for name in ("minutes", "quantity", "price", "amount")]
    assert all("." not in one for one in numbers)


def test_the_command_and_its_refusals(workshop: Workshop, tmp_path: Path) -> None:
    file = tmp_path / "accounts.csv"
    assert run("job", "csv", TRUCK_4, "-o", file, "--data", tmp_path).code == 0
    assert file.read_bytes().decode() == accounts_csv(workshop, TRUCK_4)
    assert run("job", "csv", TRUCK_4, "-o", file, "--data", tmp_path).code == 2
    again = run("job", "csv", TRUCK_4, "--separator", "semicolon", "-o", file, "--force", "--data",
                tmp_path)
    assert again.code == 0
    assert file.read_bytes().decode() == accounts_csv(workshop, TRUCK_4, "semicolon")
    with pytest.raises(NotFoundError):
        accounts_csv(workshop, 99)
    with pytest.raises(UnknownNameError, match="semicolon"):
        accounts_csv(workshop, TRUCK_4, "semicolons")


@pytest.mark.parametrize("text", [
    "fuse;=1+1", 'fuse;"=1+1', "fuse, @SUM(1)", "fuse\t=1", "fuse ;  -1+1", "fuse,+1", "a;b;=c",
    "fuse;＝1", "fuse\r\n=1+1", "\ufeff=1+1"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_no_cell_is_a_formula_whatever_separator_a_spreadsheet_is_set_to(
    text: str, separator: str
) -> None:
    out = io.StringIO()
    csv.writer(out).writerow(["1", safe_cell(text), "2"])
    for cell in out.getvalue().replace('"', "").replace("'", "'").split(separator):
        assert not cell.strip().startswith(STARTS), cell
    assert safe_cell("10 A fuse, left; earth -, clean") == "10 A fuse, left; earth -, clean"
