"""A job with one of everything that can happen to it, some of it taken back."""

from __future__ import annotations

import io

from PIL import Image

from loomwright.service import office, telling
from loomwright.service.circuit_versions import change_circuit, return_to
from loomwright.service.jobs import Workshop
from loomwright.service.office import Sender
from loomwright.service.photos import PhotoForm, add_photo
from loomwright.service.quote import give_offer
from loomwright.service.reach import cannot_reach, reach_again
from loomwright.service.records import JobForm, ReadingForm
from loomwright.service.telling import TellForm
from tests.service.depot_folder import TRUCK_7

__all__ = ["whole_job"]

WIRE = "[W24, SP3,     E2,      2.5 mm2,  0.5 m, BN]"


class _Steps:
    """Gives each step a key of its own, and its author."""

    def __init__(self) -> None:
        self.count = 0

    @property
    def key(self) -> str:
        self.count += 1
        return f"whole-job-step-{self.count}"

    def sender(self, by: str) -> Sender:
        return Sender(self.key, by)


def whole_job(workshop: Workshop) -> int:
    """Make the job and return its number."""
    steps = _Steps()
    job = workshop.create_job(
        JobForm("Skerry Point council", "Truck 12, rear-loader", "SKY 012", "tailgate lock",
                "The tailgate does not lock", "when wet", copy_from=TRUCK_7, by="Morag"),
        "whole-job-begin").id
    _searched(workshop, job, steps)
    _talked(workshop, job, steps)
    _repaired(workshop, job, steps)
    _ended(workshop, job, steps)
    return job


def _searched(workshop: Workshop, job: int, steps: _Steps) -> None:
    def read(quantity: str, at: str, value: str, instrument: str = "") -> int:
        return workshop.add_reading(
            job, ReadingForm("locking", quantity, at, value=value, instrument=instrument),
            steps.key, "Isla")

    read("running", "Y1", "off", "eye")
    wrong = read("voltage", "S4.1", "3 V")
    workshop.withdraw(job, wrong, steps.key, "Isla")
    read("voltage", "S4.1", "25.1 V")
    spot = ReadingForm("locking", "voltage", "ECU.31")
    left_out = cannot_reach(workshop, job, spot, steps.key, "Isla")
    reach_again(workshop, job, left_out, steps.key, "Isla")
    cannot_reach(workshop, job, ReadingForm("locking", "voltage", "X1.2a"), steps.key, "Isla")
    code = TellForm("code", "Lock output open", "ECU.lock")
    told = telling.tell(workshop, job, code, steps.key, "Isla")
    telling.take_back(workshop, job, told, steps.key, "Morag")
    telling.tell(workshop, job, TellForm("swap", "new relay fitted", "K3"), steps.key, "Isla")
    text = workshop.circuit_text(job)
    assert WIRE in text
    first = workshop.opened(job)[1].last
    longer = text.replace(WIRE, WIRE.replace("0.5 m", "3 m"))
    number = change_circuit(workshop, job, (longer, "measured"), steps.key, "Mairi")
    return_to(workshop, job, 0, "that was the other truck", steps.key, "Mairi")
    return_to(workshop, job, number, "", steps.key, "Mairi")
    assert workshop.opened(job)[1].last == first + 3


def _talked(workshop: Workshop, job: int, steps: _Steps) -> None:
    office.change_card(workshop, job, {"odometer": "81 200 km", "hot": "no"},
                       steps.sender("Morag"))
    office.set_limit(workshop, job, ("60", "150"), steps.sender("Morag"))
    give_offer(workshop, job, {"form": "estimate", "money": "180", "most": "260"},
               steps.sender("Morag"))
    office.answer(workshop, job, {"agreed": "yes", "who": "Mr Ross", "how": "by telephone",
                                  "money": "260"}, steps.sender("Morag"))
    for minutes in ("45", "5"):
        office.clock_minutes(workshop, job, (minutes, "looking"), steps.sender("Isla"))
    office.take_back(workshop, job, workshop.opened(job)[1].last, steps.sender("Isla"))
    office.use_part(workshop, job, {"what": "Wire", "quantity": "1.5", "price": "2.20"},
                    steps.sender("Isla"))
    for shade in (60, 200):
        out = io.BytesIO()
        Image.new("RGB", (40, 30), (shade, 90, 90)).save(out, "PNG")
        photo = add_photo(workshop, job, PhotoForm(out.getvalue(), "The hinge"),
                          steps.sender("Isla"))
    office.take_back(workshop, job, photo, steps.sender("Isla"))


def _repaired(workshop: Workshop, job: int, steps: _Steps) -> None:
    workshop.begin_repair(job, "mend W20", steps.key, "Isla")
    workshop.record_repair(job, ("mend W20", "chafed at the hinge"), steps.key, "Isla")
    workshop.reopen(job, steps.key, "Isla")  # it did not hold
    telling.tell(workshop, job, TellForm("agree"), steps.key, "Morag")
    again = ReadingForm("locking", "running", "Y1", value="off", instrument="eye")
    workshop.add_reading(job, again, steps.key, "Isla")
    workshop.record_repair(job, ("clean E2", "green under the lug"), steps.key, "Isla")
    for line in workshop.view(job).proof.lines[:2]:  # type: ignore[union-attr]
        check = line.check
        workshop.add_reading(job, ReadingForm(check.state, check.quantity, check.at, check.to,
                                              check.healthy, instrument=check.instrument),
                             steps.key, "Isla")


def _ended(workshop: Workshop, job: int, steps: _Steps) -> None:
    words = {"cause": "Earth E2 corroded", "correction": "Cleaned", "remains": "Look again in May"}
    office.write_findings(workshop, job, words, steps.sender("Isla"))
    workshop.finish(job, ("locks again", "fetched before all was read"), steps.key, "Isla")
    office.hand_over(workshop, job, ("Mr Ross", "keep the lug greased"), steps.sender("Morag"))
