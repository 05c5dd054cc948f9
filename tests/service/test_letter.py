"""The customer letter and the record as PDF: what they say, hostile text, photos, and speed."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from loomwright.errors import UnknownNameError, UsageError
from loomwright.service import office
from loomwright.service.dates import date_words, moment_words
from loomwright.service.jobs import Workshop
from loomwright.service.letter import MOST_PHOTOS, letter, letter_pdf, picture_files
from loomwright.service.limits import limit_rows, model_words
from loomwright.service.office import Sender
from loomwright.service.office_view import office_view
from loomwright.service.photos import PhotoForm, add_photo
from loomwright.service.quote import give_offer
from loomwright.service.rates import save_rates
from loomwright.service.records import JobForm
from loomwright.service.report import record_pdf
from loomwright.service.typesetting import ZERO_WIDTH_SPACE, breakable
from tests.service.depot_folder import TRUCK_4, TRUCK_7, depot_in
from tests.service.whole_job import whole_job

HOSTILE = (
    "#import \"@preview/cetz:0.3.0\": *", "#panic(\"x\")", "#read(\"/etc/passwd\")",
    "$x^2$ *b* _i_",
    "= Heading", "\\", "]]]] ])) }}", "\"quoted\" 'single' `raw`", "<label> @ref // comment /* c",
    "שלום עולם مرحبا", "🔧🚚👩🏽‍🔧 ⚡", "w" * 300, "x" * 300 + " #" + "y" * 300, "\x00\x07\x1b[31m",
    "line\nbreak\r\n\ttab", "\u202eevil", "{{ 7*7 }} ${x} %s", "\ud800")


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    return Workshop(depot_in(tmp_path))


def sender(number: int) -> Sender:
    return Sender(f"letter-key-{number}", "Isla")


def words_of(pdf: bytes) -> str:
    """Return the text of a PDF, one blank between words."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed")
    found = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True,
                           check=True)
    return " ".join(found.stdout.decode().replace(ZERO_WIDTH_SPACE, "").split())


def jpeg(colour: tuple[int, int, int]) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (400, 300), colour).save(out, "JPEG")
    return out.getvalue()


def test_the_letter_says_what_was_wrong_found_done_proved_and_what_it_costs(
    workshop: Workshop
) -> None:
    save_rates(workshop, {"name": "Skerry Point workshop", "labour_rate_per_h": "60",
                          "tax_name": "VAT", "tax_percent": "20", "currency": "EUR"}, sender(1))
    office.clock_minutes(workshop, TRUCK_4, ("90", "tailgate"), sender(2))
    office.use_part(workshop, TRUCK_4, {"what": "ring terminal", "quantity": "2", "price": "5"},
                    sender(3))
    office.write_findings(workshop, TRUCK_4, {
        "cause": "Salt under the terminal", "correction": "Cleaned and greased",
        "remains": "Look at E3 next service"}, sender(4))
    text = words_of(letter_pdf(letter(workshop, TRUCK_4)))
    # the engine chooses the readings of the demonstration: the last one at E2 before the repair
    read = next(one.value for one in reversed(workshop.opened(TRUCK_4)[1].readings)
                if (one.point, one.round) == ("E2", 0))
    for words in ("Skerry Point workshop", "What you told us", "Salt under the terminal",
                  "Earth point E2", "Cleaned and greased", read, "Look at E3 next service",
                  "ring terminal", "100.00 EUR", "VAT 20 %", "120.00 EUR", "common practice",
                  "28 of its values are assumed", "Raised tailgate"):
        assert words in text, words  # 90 min at 60 an hour and two at 5 are 100, with 20 % 120


def test_an_agreed_quote_is_the_price(workshop: Workshop) -> None:
    save_rates(workshop, {"tax_percent": "10", "currency": "EUR"}, sender(1))
    give_offer(workshop, TRUCK_7, {"form": "quote", "money": "200"}, sender(2))
    office.answer(workshop, TRUCK_7, {"agreed": "yes", "who": "Mr Ross"}, sender(3))
    save_rates(workshop, {"tax_percent": "25"}, sender(4))  # the day of the quote counts
    made = letter(workshop, TRUCK_7)
    assert made.sums[-1] == ("Total", "220.00 EUR")
    assert made.lines == ()
    assert "quote agreed to" in made.price_note
    assert "not finished" in made.remains[-1]
    assert any("Mr Ross agreed" in one for one in made.talk)


def test_the_record_says_when_it_was_handed_over(workshop: Workshop) -> None:
    office.hand_over(workshop, TRUCK_4, ("Mr Ross", "all"), sender(1))
    made = workshop.record(TRUCK_4)
    minute = moment_words(made.hand_over_at)
    assert f"Given to Mr Ross. all (Isla, {minute})" in words_of(record_pdf(made))


def test_letter_and_record_have_their_sender_and_dates_in_words(workshop: Workshop) -> None:
    for text in (words_of(letter_pdf(letter(workshop, TRUCK_4))),
                 words_of(record_pdf(workshop.record(TRUCK_4)))):
        for words in ("Skerry Point depot", "Old Slipway 2", "0555 010 200"):
            assert words in text  # the demonstration's own
        assert not re.search(r"20\d\d-\d\d-\d\d", text)
    day = date_words(workshop.store.events(TRUCK_4)[-1].at, "month first")
    save_rates(workshop, {"date_order": "month first", "name": "Brae garage", "phone": ""},
               sender(1))
    made = letter(workshop, TRUCK_4)
    assert made.at == day
    assert made.workshop == "Brae garage"
    record = workshop.record(TRUCK_4)
    missing = "Letter and record lack the workshop's own telephone."
    assert workshop.view(TRUCK_4).sender_missing == record.sender_missing == missing
    assert "lack" not in words_of(letter_pdf(made)) + words_of(record_pdf(record))
    with pytest.raises(UnknownNameError, match="order of dates 'month frist'"):
        save_rates(workshop, {"date_order": "month frist"}, sender(2))
    with pytest.raises(UsageError, match="labour rate"):
        save_rates(workshop, {"labour_rate_per_h": "0"}, sender(3))


def test_a_tax_of_nothing_is_not_written_out(workshop: Workshop) -> None:
    office.use_part(workshop, TRUCK_7, {"what": "ring terminal", "price": "5"}, sender(1))
    give_offer(workshop, TRUCK_7, {"form": "quote", "money": "200"}, sender(2))
    plain = letter(workshop, TRUCK_7)
    assert "tax" not in words_of(letter_pdf(plain)).lower()
    assert [name for name, _ in plain.sums][1:] == ["Parts", "Total"]
    office.answer(workshop, TRUCK_7, {"agreed": "yes", "who": "Mr Ross"}, sender(3))
    assert letter(workshop, TRUCK_7).sums == (("Price agreed", "200.00"),)
    save_rates(workshop, {"tax_percent": "20", "tax_name": "VAT"}, sender(4))
    taxed = [name for name, _ in office_view(workshop, TRUCK_7).sums if "%" in name]
    assert taxed == ["VAT 20 %"]


def test_a_letter_says_how_much_of_a_proof_was_read(workshop: Workshop) -> None:
    made = letter(workshop, whole_job(workshop))
    assert re.fullmatch(r"The repair has not been proved: 2 of \d+ readings of its proof were "
                        r"taken\.", made.proof)
    assert "Mr Ross agreed" in made.talk[-1]
    assert "What was said of the price" in words_of(letter_pdf(made))


def test_a_lamp_that_is_dim_is_said_so(workshop: Workshop) -> None:
    looked = workshop.verdict_text(TRUCK_4) + words_of(letter_pdf(letter(workshop, TRUCK_4)))
    assert " lit at " not in looked


@pytest.mark.parametrize(("order", "words"), [
    ("day first", "5 March 2026"), ("month first", "March 5, 2026"),
    ("year first", "2026 March 5"), ("", "5 March 2026")])
def test_a_date_is_in_words(order: str, words: str) -> None:
    assert date_words("2026-03-05", order) == words
    assert moment_words("2026-03-05T07:08:09", order) == f"{words}, 07:08"


def test_what_is_assumed_is_said_to_be(workshop: Workshop) -> None:
    made = letter(workshop, TRUCK_7)
    assert "labour rate is assumed" in made.price_note
    assert "not clocked" in made.price_note
    assert made.proof == "No repair was made."


def test_limits_come_with_their_source(workshop: Workshop) -> None:
    circuit = workshop.opened(TRUCK_4)[2].circuit
    rows = limit_rows(circuit, ("clean E2",))
    assert rows == (("Volt drop, earth strap or single connection (on 12 V)",
                     "0.1 V, max under load", "common practice"),)
    assert limit_rows(circuit, ("mend W20",)) == ()
    assert "assumed, not measured" in model_words(circuit)


def test_photos_stand_in_the_letter_and_in_the_record(workshop: Workshop) -> None:
    plain = len(letter_pdf(letter(workshop, TRUCK_4)))
    for number in range(MOST_PHOTOS + 1):
        add_photo(workshop, TRUCK_4, PhotoForm(jpeg((number * 40, 90, 60)), f"view {number}"),
                  sender(number))
    made = letter(workshop, TRUCK_4)
    files = picture_files(workshop, made.photos)
    assert len(files) == len(made.photos) == MOST_PHOTOS
    assert all(data in letter_pdf(made, files) for data in files.values())  # as they are kept
    assert len(letter_pdf(made)) < plain + 5_000  # without the files: no pictures, and no failure
    whole = workshop.record(TRUCK_4)
    first = picture_files(workshop, whole.photos[:1])
    text = words_of(record_pdf(whole, first))
    assert "view 0" in text
    assert f"And {MOST_PHOTOS} photos that are kept with the job." in text


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_only_ever_text(workshop: Workshop, text: str) -> None:
    typed = text.encode("utf-8", "replace").decode()
    form = JobForm(typed, typed, typed, typed, typed, typed, copy_from=TRUCK_7, by=typed)
    job = workshop.create_job(form, "hostile-job").id
    office.use_part(workshop, job, {"what": typed, "price": "1"}, sender(1))
    office.write_findings(workshop, job, {"cause": typed, "correction": typed, "remains": typed},
                          sender(2))
    save_rates(workshop, {"name": typed[:300], "currency": typed[:300]}, sender(3))
    made = letter_pdf(letter(workshop, job))
    assert made.startswith(b"%PDF")
    assert record_pdf(workshop.record(job)).startswith(b"%PDF")
    if text.isascii() and text.isprintable():
        squeezed = "".join(words_of(made).split())
        assert "".join(text.split())[:40] in squeezed


def test_an_endless_word_loses_no_letter(workshop: Workshop) -> None:
    word = "".join(chr(97 + number % 26) for number in range(300))
    office.write_findings(workshop, TRUCK_4, {"cause": word}, sender(1))
    office.use_part(workshop, TRUCK_4, {"what": word}, sender(2))
    squeezed = "".join(words_of(letter_pdf(letter(workshop, TRUCK_4))).split())
    assert squeezed.count(word) >= 1
    assert breakable(word).replace(ZERO_WIDTH_SPACE, "") == word


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.text(max_size=120))
def test_any_text_makes_a_letter(workshop: Workshop, text: str) -> None:
    import dataclasses

    made = dataclasses.replace(
        letter(workshop, TRUCK_4), complaint=text, found=(text,), remains=(text,), vehicle=text,
        lines=((text, text),), readings=((text, text, text, text),), price_note=text)
    assert letter_pdf(made).startswith(b"%PDF")


def test_a_letter_takes_as_many_photos_as_a_job_may_have(workshop: Workshop) -> None:
    for number in range(MOST_PHOTOS):
        add_photo(workshop, TRUCK_4, PhotoForm(jpeg((number * 40, 90, 60)), "x"), sender(number))
    made = letter(workshop, TRUCK_4)
    assert len(made.photos) == MOST_PHOTOS
    pages = letter_pdf(made, picture_files(workshop, made.photos))
    assert pages.count(b"/Subtype/Image") >= MOST_PHOTOS
