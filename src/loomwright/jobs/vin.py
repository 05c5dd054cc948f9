"""Vehicle identification numbers: their form by ISO 3779, and the check digit where one is due.

Form: 17 characters, digits and capital letters without I, O and Q (ISO 3779). Check digit: position
9 of vehicles for the North American market (49 CFR 565.15); elsewhere position 9 may be anything,
so nothing is said there. Letter values, weights and the ten written as X are from memory of 49 CFR
565.15; the tests' example values are too.
"""

from __future__ import annotations

import re

from loomwright.errors import UsageError

__all__ = ["check_digit", "clean_vin", "vin_remark", "vin_warning"]

LENGTH = 17
FORM = re.compile(r"[0-9A-HJ-NPR-Z]{17}")
DUE = "12345"  # first characters of the market where the check digit is law
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
VALUES = {
    **{digit: int(digit) for digit in "0123456789"},
    **dict(zip("ABCDEFGH", range(1, 9), strict=True)),
    **dict(zip("JKLMN", range(1, 6), strict=True)), "P": 7, "R": 9,
    **dict(zip("STUVWXYZ", range(2, 10), strict=True)),
}


def clean_vin(text: str) -> str:
    """Return a typed number in capitals without spaces and hyphens; '' stays ''.

    Raises UsageError where it has not the form of ISO 3779.
    """
    vin = re.sub(r"[\s-]", "", text).upper()
    if not vin or FORM.fullmatch(vin):
        return vin
    odd = sorted({one for one in vin if one not in VALUES})
    if odd:
        what = f"has {', '.join(odd[:5])}; I, O, Q and signs are not used in it"
    else:
        what = f"has {len(vin)} characters; it must have {LENGTH}"
    raise UsageError(f"The VIN {what}.", next_step="Read it again from the plate, or leave it "
                     "empty where the vehicle has another sort of number.")


def check_digit(vin: str) -> str:
    """Return the character that 49 CFR 565.15 puts at position 9 of a VIN of the right form.

    Weighted sum of the letters' values, modulo 11; ten is written as X.
    """
    rest = sum(weight * VALUES[one] for weight, one in zip(WEIGHTS, vin, strict=True)) % 11
    return "X" if rest == 10 else str(rest)


def vin_warning(vin: str) -> str:
    """Return what is odd about a VIN of the right form, or ''; only where a check digit is due."""
    if not vin or vin[0] not in DUE or vin[8] == check_digit(vin):
        return ""
    return (f"The check digit of this VIN (position 9) should be {check_digit(vin)}, not {vin[8]}: "
            "read it again from the plate.")


def vin_remark(typed: str) -> str:
    """Return what is odd about a VIN while it is typed, or ''; one that is short may grow yet."""
    text = re.sub(r"[\s-]", "", typed).upper()
    if len(text) < LENGTH and all(one in VALUES for one in text):
        return ""
    try:
        return vin_warning(clean_vin(text))
    except UsageError as error:
        return f"{error.message} {error.next_step}"
