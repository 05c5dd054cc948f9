"""Wire colours by the two-letter code of IEC 60757 (codes from memory)."""

from __future__ import annotations

from loomwright.circuit.model import Mark
from loomwright.circuit.reader.problems import Problems

__all__ = ["COLOURS", "colour_code"]

COLOURS = {
    "BK": "black", "BN": "brown", "RD": "red", "OG": "orange", "YE": "yellow", "GN": "green",
    "BU": "blue", "VT": "violet", "GY": "grey", "WH": "white", "PK": "pink", "GD": "gold",
    "TQ": "turquoise", "SR": "silver", "GNYE": "green-yellow",
}
# What people write instead: words, and German codes seen on many European diagrams (from memory).
_OTHER = {
    **{word.upper(): code for code, word in COLOURS.items()},
    "GRAY": "GY", "PURPLE": "VT", "LILAC": "VT",
    "SW": "BK", "BR": "BN", "RT": "RD", "OR": "OG", "GE": "YE", "GR": "GY", "BL": "BU", "VI": "VT",
    "WS": "WH", "RS": "PK", "LI": "VT", "B": "BK", "R": "RD", "Y": "YE", "G": "GN", "W": "WH",
    "N": "BN", "U": "BU", "P": "VT", "O": "OG", "S": "GY", "K": "PK", "BLK": "BK", "GRN": "GN",
    "GRY": "GY", "WHT": "WH", "YEL": "YE", "ORG": "OG", "BRN": "BN", "BLU": "BU", "PNK": "PK",
}


def colour_code(text: str, mark: Mark, problems: Problems) -> str:
    """Return a colour such as `GY` or `GY/RD` in capitals, '' where it is wrong."""
    codes = text.upper().replace(" ", "").split("/")
    if len(codes) > 2:
        problems.add(mark, f"'{text}' has more than two colours.",
                     "Write the body and the stripe, like 'GY/RD'.")
        return ""
    for code in codes:
        if code in COLOURS:
            continue
        meant = _OTHER.get(code)
        what = f"'{code}' is not a colour code."
        if meant:
            problems.add(mark, what, f"Did you mean '{meant}' ({COLOURS[meant]})?")
        else:
            problems.unknown(mark, what, code, [f"{key}" for key in COLOURS])
        return ""
    return "/".join(codes)
