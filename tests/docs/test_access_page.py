"""The table of roles in the documentation is that of the program."""

from __future__ import annotations

import re
from pathlib import Path

from loomwright.service.roles import ROLES, SCOPES, Permission

PAGE = Path(__file__).parents[2] / "docs" / "people_and_access.md"


def test_the_table_of_roles_is_the_programs() -> None:
    rows = re.findall(r"^\| (.+?) \|$", PAGE.read_text(encoding="utf-8"), re.MULTILINE)
    cells = [[cell.strip() for cell in row.split("|")] for row in rows]
    assert cells[0] == ["may", "apprentice", "technician", "foreman", "token `read`",
                        "token `write`", "token `office`"]
    holders = (ROLES["apprentice"], ROLES["technician"], ROLES["foreman"], SCOPES["read"],
               SCOPES["write"], SCOPES["office"])
    wanted = [[one.value, *("yes" if one in held else "-" for held in holders)]
              for one in Permission]
    assert cells[1 : len(wanted) + 1] == wanted
