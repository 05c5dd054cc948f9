"""What a suspect did to another part for good, in one sentence with its cause: a blown fuse."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from loomwright.diagnosis.records import Suspect
from loomwright.diagnosis.wording import cause_words, join_words
from loomwright.plant import Consequence, Hypothesis, Plant, consequences_of

__all__ = ["LedTo", "led_to", "sentence"]

_LEAST_SHARE = 0.1  # an unlikely suspect's consequences are not worth a sentence
_MOST = 3


@dataclass(frozen=True, slots=True)
class LedTo:
    """What one suspect led to, and the sentence that names cause and consequence."""

    suspect: str
    consequences: tuple[Consequence, ...]
    text: str


def led_to(plant: Plant, suspects: Sequence[Suspect], least: float = _LEAST_SHARE
           ) -> tuple[LedTo, ...]:
    """Return what the leading suspects led to; those that led to nothing are left out.

    Parameters
        suspects: by falling probability
        least: probability below which a suspect is not looked at
    """
    found = []
    for one in [one for one in suspects if one.probability >= least][:_MOST]:
        row = Hypothesis(one.id, one.element, one.kind, one.repair, one.probability, one.severity)
        told = tuple(consequences_of(plant, row))
        if told:
            found.append(LedTo(one.id, told, sentence(((one.element, one.kind),), told)))
    return tuple(found)


def sentence(causes: Sequence[tuple[str, str]], told: Sequence[Consequence]) -> str:
    """Return cause and consequence in plain words.

    Parameters
        causes: element and kind of each fault
        told: what they led to, at least one
    """
    pairs = [pair for element, kind in causes
             for pair in zip(element.split("+"), kind.split("+"), strict=False)]
    cause = join_words([cause_words(element, kind) for element, kind in pairs])
    blown = join_words([_blown(one) for one in told])
    names = join_words([one.element for one in told])
    mended = list(dict.fromkeys(element for element, _ in pairs))
    first = f"{join_words(mended)} {'is' if len(mended) == 1 else 'are'} put right"
    return f"{cause}; that {blown}. {names} to be renewed once {first}."


def _blown(one: Consequence) -> str:
    text = f"{one.act} {one.element} ({one.size}) in '{one.state}', which opens "
    if one.least_s is None or one.most_s is None:
        return f"{text}at {one.at} (no table says how fast)"
    typical = math.sqrt(one.least_s * one.most_s)
    return f"{text}after about {_seconds(typical)} at {one.at} (time {one.grade})"


def _seconds(value: float) -> str:
    return f"{value:.1g} s" if value < 1 else f"{value:.2g} s" if value < 100 \
        else f"{value / 60:.0f} min"
