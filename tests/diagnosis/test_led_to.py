"""The sentence that names a fault and what it led to."""

from dataclasses import dataclass

from loomwright.diagnosis import Suspect, led_to
from loomwright.diagnosis.led_to import sentence
from loomwright.plant import Consequence, Hypothesis

FUSE = Consequence("F1", "blew", "25 A", "up", "130 A", 0.2, 0.8, "from memory")
LINK = Consequence("FL2", "melted", "60 A", "up", "300 A", None, None, "")


@dataclass(frozen=True)
class Told:
    """A plant of which only the hook is asked."""

    asked: list[str]

    def consequences(self, hypothesis: Hypothesis) -> tuple[Consequence, ...]:
        """Return that a seized motor blows the fuse."""
        self.asked.append(hypothesis.fault_id)
        return (FUSE,) if hypothesis.kind == "seized" else ()


def suspect(fault: str, share: float) -> Suspect:
    kind, element = fault.split(":")
    return Suspect(fault, element, kind, share, None, f"replace {element}")


def test_cause_and_consequence_in_one_sentence() -> None:
    assert sentence((("M1", "seized"),), (FUSE,)) == (
        "M1 is seized; that blew F1 (25 A) in 'up', which opens after about 0.4 s at 130 A "
        "(time from memory). F1 to be renewed once M1 is put right.")
    text = sentence((("W3", "short-to-earth"), ("M1", "open")), (FUSE, LINK))
    assert text.startswith("W3 is shorted to earth and M1 is open circuit; that blew F1")
    assert "melted FL2 (60 A) in 'up', which opens at 300 A (no table says how fast)" in text
    assert text.endswith("F1 and FL2 to be renewed once W3 and M1 are put right.")


def test_only_suspects_worth_a_sentence_are_asked_for() -> None:
    plant = Told([])
    suspects = (suspect("open:W1", 0.5), suspect("seized:M1", 0.3), suspect("seized:M2", 0.05))
    (found,) = led_to(plant, suspects)  # type: ignore[arg-type]
    assert plant.asked == ["open:W1", "seized:M1"]
    assert (found.suspect, found.consequences) == ("seized:M1", (FUSE,))
    assert "M1 is seized; that blew F1" in found.text


def test_a_plant_that_tells_nothing_leads_to_nothing() -> None:
    assert led_to(object(), (suspect("seized:M1", 0.9),)) == ()  # type: ignore[arg-type]
