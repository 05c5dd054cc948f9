"""What each role may do, and who is doing something."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

__all__ = ["HOST", "NOBODY", "ROLES", "SCOPES", "Actor", "Permission", "role_words"]


class Permission(Enum):
    """One thing that somebody may or may not do."""

    LOOK = "look at jobs, records and pages"
    MEASURE = "take readings and take them back, add photos"
    PRACTISE = "practise"
    OPEN = "open and change jobs, circuits and customers"
    REPAIR = "record a repair, go back to finding the fault"
    FINISH = "close a job"
    APPROVE = "approve a quote, set prices and taxes"
    SIGN_OFF = "sign off practice"
    MANAGE = "manage people, devices and tokens"


_APPRENTICE = frozenset({Permission.LOOK, Permission.MEASURE, Permission.PRACTISE})
_TECHNICIAN = _APPRENTICE | {Permission.OPEN, Permission.REPAIR, Permission.FINISH}
ROLES: dict[str, frozenset[Permission]] = {
    "apprentice": _APPRENTICE, "technician": _TECHNICIAN, "foreman": frozenset(Permission)}
# A program does a technician's work, and with the scope office the paper side of it too: offers,
# their answers, limits, prices. It manages nobody, signs nothing off, learns nothing.
_PROGRAM = _TECHNICIAN - {Permission.PRACTISE}
SCOPES: dict[str, frozenset[Permission]] = {
    "read": frozenset({Permission.LOOK}), "write": _PROGRAM,
    "office": _PROGRAM | {Permission.APPROVE}}


@dataclass(frozen=True, slots=True)
class Actor:
    """Who does something: a person, a program, or whoever sits at this machine.

    `name` stands beside everything they change; `kind` is person, program, host, or nobody.
    `person` and `device` are numbers, 0 where there is none.
    """

    name: str
    role: str
    kind: str
    permissions: frozenset[Permission]
    person: int = 0
    device: int = 0

    def may(self, permission: Permission) -> bool:
        """Return whether the actor may do something."""
        return permission in self.permissions

    @property
    def known(self) -> bool:
        """Return whether anybody or anything is signed in; the host's user is, by sitting there."""
        return self.kind != "nobody"


# Whoever sits at a machine that only listens to itself owns its files already.
HOST = Actor("", "", "host", frozenset(Permission))
NOBODY = Actor("", "", "nobody", frozenset())


def role_words(role: str) -> tuple[str, ...]:
    """Return what a role may do, in words."""
    return tuple(one.value for one in Permission if one in ROLES[role])
