"""Who may use which address: one decision for every route, in one place to be read and checked.

A route without a decision is refused to everybody but the user of a machine that only listens to
itself; a test walks all routes and asks for the decision.
"""

from __future__ import annotations

from fastapi import Request

from loomwright.errors import NotAllowedError, SignInError
from loomwright.service.roles import HOST, Actor, Permission

__all__ = ["ACTOR", "ANYBODY", "DOOR", "MEMBER", "PERMITS", "actor_of", "decide", "need"]

ACTOR = "loomwright.actor"  # where the gate leaves who is asking, in the request's scope
ANYBODY = "anybody"  # the door itself: reachable before pairing
DOOR = "paired"  # on a paired device, before signing in
MEMBER = "signed in"  # everybody who is signed in, whatever the role

Decision = Permission | str
LOOK, MEASURE, PRACTISE = Permission.LOOK, Permission.MEASURE, Permission.PRACTISE
OPEN, REPAIR, FINISH = Permission.OPEN, Permission.REPAIR, Permission.FINISH
APPROVE, SIGN_OFF, MANAGE = Permission.APPROVE, Permission.SIGN_OFF, Permission.MANAGE

_TEXT: dict[Decision, str] = {
    ANYBODY: "GET /pair, POST /pair",
    DOOR: "GET /sign-in, POST /sign-in, GET /set-up, POST /set-up",
    MEMBER: "GET /who, POST /who, POST /who/pin, POST /sign-out, POST /sign-out/everywhere",
    LOOK: """
        GET /, GET /jobs/new, GET /jobs/vin, GET /jobs/{job_id},
        GET /editor, POST /editor, POST /editor/file, POST /api/editor/check,
        POST /api/editor/paste,
        GET /jobs/{job_id}/what-if, GET /jobs/{job_id}/why, GET /jobs/{job_id}/demo,
        GET /jobs/{job_id}/events,
        GET /jobs/{job_id}/record, GET /jobs/{job_id}/record.pdf, GET /jobs/{job_id}/circuit.yaml,
        GET /jobs/{job_id}/circuit, GET /jobs/{job_id}/circuit/{number}.yaml,
        GET /jobs/{job_id}/job.json, GET /jobs/{job_id}/job.csv, GET /practice,
        GET /jobs/{job_id}/letter.pdf, GET /jobs/{job_id}/card, GET /jobs/{job_id}/costs,
        GET /jobs/{job_id}/photos, GET /jobs/{job_id}/photos/{name},
        GET /jobs/{job_id}/foresight, GET /jobs/{job_id}/hand-over, GET /jobs/{job_id}/history,
        GET /settings, GET /practice/progress, GET /practice/sheet, GET /practice/{exercise},
        GET /api/jobs, GET /api/jobs/{job_id}, GET /api/jobs/{job_id}/demo,
        GET /api, GET /api/openapi.json, GET /api/v1/jobs, GET /api/v1/jobs/{job_id},
        GET /api/v1/jobs/{job_id}/record.pdf, GET /api/v1/jobs/{job_id}/circuit,
        GET /api/v1/jobs/{job_id}/expected, GET /api/v1/jobs/{job_id}/readings,
        GET /api/v1/jobs/{job_id}/suspects, GET /api/v1/jobs/{job_id}/repairs,
        GET /api/v1/jobs/{job_id}/proof, GET /api/v1/jobs/{job_id}/left-out,
        GET /api/v1/jobs/{job_id}/told, POST /api/v1/jobs/{job_id}/what-if,
        POST /api/v1/jobs/{job_id}/demo, GET /api/v1/jobs/{job_id}/circuit/versions,
        GET /api/v1/jobs/{job_id}/circuit/versions/{number},
        GET /api/v1/jobs/{job_id}/circuit/versions/{number}/drawing.svg,
        GET /api/v1/jobs/{job_id}/drawing.svg, GET /api/v1/jobs/{job_id}/why,
        POST /api/v1/circuits/check, GET /api/v1/templates, POST /api/v1/templates/{name},
        GET /api/v1/jobs/{job_id}/card, GET /api/v1/vin, GET /api/v1/jobs/{job_id}/costs,
        GET /api/v1/jobs/{job_id}/foresight, GET /api/v1/jobs/{job_id}/offers,
        GET /api/v1/jobs/{job_id}/findings, GET /api/v1/jobs/{job_id}/hand-over,
        GET /api/v1/jobs/{job_id}/photos, GET /api/v1/jobs/{job_id}/photos/{sha256}.jpg,
        GET /api/v1/jobs/{job_id}/letter.pdf, GET /api/v1/jobs/{job_id}/accounts.csv,
        GET /api/v1/jobs/{job_id}/history, GET /api/v1/jobs/{job_id}/job-file,
        GET /api/v1/settings, GET /api/v1/practice, GET /api/v1/practice/progress,
        GET /api/v1/practice/sheet, GET /api/v1/practice/{exercise}""",
    MEASURE: """
        POST /jobs/{job_id}/readings, POST /jobs/{job_id}/readings/{number}/withdraw,
        POST /jobs/{job_id}/unreached, POST /jobs/{job_id}/unreached/{number}/withdraw,
        POST /jobs/{job_id}/photos, POST /jobs/{job_id}/minutes,
        POST /jobs/{job_id}/told, POST /jobs/{job_id}/told/{number}/withdraw,
        POST /jobs/{job_id}/take-back/{number}, POST /api/jobs/{job_id}/readings,
        POST /api/v1/jobs/{job_id}/readings, DELETE /api/v1/jobs/{job_id}/readings/{number},
        POST /api/v1/jobs/{job_id}/left-out, DELETE /api/v1/jobs/{job_id}/left-out/{number},
        POST /api/v1/jobs/{job_id}/told, DELETE /api/v1/jobs/{job_id}/told/{number},
        POST /api/v1/jobs/{job_id}/minutes, DELETE /api/v1/jobs/{job_id}/entries/{number},
        POST /api/v1/jobs/{job_id}/photos""",
    PRACTISE: """
        POST /practice, POST /practice/{exercise}/readings, POST /practice/{exercise}/repair,
        POST /practice/{exercise}/again,
        POST /api/v1/practice, POST /api/v1/practice/{exercise}/readings,
        POST /api/v1/practice/{exercise}/repair""",
    OPEN: """
        POST /jobs, POST /jobs/form, GET /jobs/import, POST /jobs/import,
        POST /jobs/{job_id}/card, POST /jobs/{job_id}/circuit,
        POST /jobs/{job_id}/circuit/{number}/return,
        POST /api/v1/jobs, POST /api/v1/jobs/import, PATCH /api/v1/jobs/{job_id}/card,
        POST /api/v1/jobs/{job_id}/circuit,
        POST /api/v1/jobs/{job_id}/circuit/versions/{number}/return""",
    REPAIR: """
        POST /jobs/{job_id}/repair/begin, POST /jobs/{job_id}/repair,
        POST /jobs/{job_id}/reopen, POST /jobs/{job_id}/go-on, POST /jobs/{job_id}/parts,
        POST /jobs/{job_id}/findings,
        POST /api/v1/jobs/{job_id}/repairs, POST /api/v1/jobs/{job_id}/reopen,
        POST /api/v1/jobs/{job_id}/go-on, POST /api/v1/jobs/{job_id}/parts,
        PUT /api/v1/jobs/{job_id}/findings""",
    FINISH: """
        POST /jobs/{job_id}/finish, POST /jobs/{job_id}/hand-over,
        POST /api/v1/jobs/{job_id}/finish, POST /api/v1/jobs/{job_id}/hand-over""",
    APPROVE: """
        POST /jobs/{job_id}/limit, POST /jobs/{job_id}/offer, POST /jobs/{job_id}/answer,
        PUT /api/v1/jobs/{job_id}/limit, POST /api/v1/jobs/{job_id}/offers,
        POST /api/v1/jobs/{job_id}/answers, PATCH /api/v1/settings""",
    SIGN_OFF: "POST /practice/sheet, POST /api/v1/practice/sheet",
    MANAGE: """
        POST /settings, GET /people, POST /people, POST /people/{person_id}/role,
        POST /people/{person_id}/pin, POST /people/{person_id}/unlock,
        POST /people/{person_id}/leave, POST /people/{person_id}/return,
        POST /people/devices/{device_id}/end, POST /people/tokens,
        POST /people/tokens/{token_id}/end, GET /share, POST /share""",
}


def _table() -> dict[tuple[str, str], Decision]:
    found: dict[tuple[str, str], Decision] = {}
    for decision, text in _TEXT.items():
        for one in filter(None, (part.strip() for part in text.split(","))):
            method, path = one.split()
            found[method, path] = decision
    return found


PERMITS = _table()


def actor_of(request: Request) -> Actor:
    """Return who is asking; the gate has found it out."""
    found: Actor = request.scope.get(ACTOR, HOST)
    return found


def decide(request: Request) -> None:
    """Refuse what the actor's role does not allow; a dependency of every route.

    Raises
        SignInError: nobody is signed in
        NotAllowedError: the role or scope does not allow it, or nothing was decided for the route
    """
    actor = actor_of(request)
    path = getattr(request.scope.get("route"), "path", "")
    decision = PERMITS.get((request.method, path))
    if decision in (ANYBODY, DOOR) or actor.kind == "host":
        return
    if not actor.known:
        raise SignInError("Nobody is signed in.", next_step="Sign in first.")
    if decision == MEMBER and actor.kind == "person":
        return
    if not isinstance(decision, Permission) or not actor.may(decision):
        raise NotAllowedError(_why(actor, decision), next_step=_next(actor))


def need(request: Request, permission: Permission) -> None:
    """Refuse what needs more than its route: of what one address takes, some is not everybody's.

    Raises NotAllowedError where the actor's role or scope does not allow it.
    """
    actor = actor_of(request)
    if not actor.may(permission):
        raise NotAllowedError(_why(actor, permission), next_step=_next(actor))


def _why(actor: Actor, decision: Decision | None) -> str:
    what = decision.value if isinstance(decision, Permission) else "do this"
    if actor.kind == "program":
        return f"A token of scope '{actor.role}' may not {what}."
    article = "An" if actor.role[:1] in "aeiou" else "A"
    return f"{article} {actor.role} may not {what}."


def _next(actor: Actor) -> str:
    if actor.kind == "program":
        return "A foreman can make another token; some things are done by people only."
    return "Ask a foreman."
