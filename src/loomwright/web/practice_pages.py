"""Pages of the practice bench: choose, predict and measure, the result, progress and sign-off."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from loomwright.errors import ConflictError, UsageError
from loomwright.jobs.folder import data_folder
from loomwright.service.practice import Asked, Practice
from loomwright.service.roles import Permission
from loomwright.web.failures import Refusal, refusal_of
from loomwright.web.forms import WHO_COOKIE, Sent, number_in, sent_form, who_is, who_value
from loomwright.web.permits import actor_of
from loomwright.web.rendering import new_key
from loomwright.web.shared import page, see

__all__ = ["practice_of", "router"]

router = APIRouter(include_in_schema=False)
FormSent = Annotated[Sent, Depends(sent_form)]
YEAR_S = 31_536_000
QUANTITIES = (
    ("voltage", "Volts"), ("current", "Amps"), ("resistance", "Ohms"),
    ("ac voltage", "AC volts"), ("continuity", "Continuity"), ("lit", "Is it lit?"),
    ("running", "Is it working?"), ("heard", "What is heard?"),
    ("turns", "Does it turn by hand?"),
    ("input", "Controller input"), ("output", "Controller output"))
INSTRUMENTS = (("", "the usual one"), ("meter", "meter"), ("test lamp", "test lamp"),
               ("21 W lamp", "21 W lamp"),
               ("clamp", "clamp"), ("eye", "eye"), ("ear", "ear"), ("hand", "hand"),
               ("controller", "controller list"))
KEPT = ("state", "quantity", "at", "to", "instrument")
_making = threading.Lock()


def practice_of(request: Request) -> Practice:
    """Return the practice bench of this application; it is made when first asked for."""
    state = request.app.state
    with _making:
        if not hasattr(state, "practice"):
            state.practice = Practice(data_folder(state.settings.data))
        found: Practice = state.practice
    return found


@router.get("/practice")
def choose(request: Request) -> Response:
    """Show what can be practised, and who has practised."""
    return _choose(request, {})


def _choose(request: Request, fields: Mapping[str, str], refusal: Refusal | None = None
            ) -> Response:
    practice = practice_of(request)
    groups: dict[str, list[Any]] = {}
    for one in practice.circuits():
        groups.setdefault(one.group, []).append(one)
    return page(request, "practice.html", refusal.status if refusal else 200, fields=fields,
                refusal=refusal, groups=groups, levels=practice.levels(), key=new_key(),
                people=practice.people())


@router.post("/practice")
def start(request: Request, sent: FormSent) -> Response:
    """Start an exercise for the person named, and remember the name in this browser."""
    practice = practice_of(request)
    here = actor_of(request).kind == "host"  # who is signed in practises under no other name
    who = sent.get("name") or sent.who if here else sent.who
    try:
        name = practice.start(who, _drawn(practice, sent), sent.key)
    except UsageError as error:
        return _choose(request, sent.fields, refusal_of(error))
    response = see(f"/practice/{name}")
    if here:
        response.set_cookie(WHO_COOKIE, who_value(who), max_age=YEAR_S, httponly=True,
                            samesite="strict", secure=request.url.scheme == "https")
    return response


def _drawn(practice: Practice, sent: Sent) -> tuple[str, int, int | None]:
    """Return circuit, level and seed as chosen."""
    if sent.get("exercise"):
        return practice.drawn(sent.get("exercise"))
    typed, level = sent.get("seed").strip(), number_in(sent.get("level"))
    seed = number_in(typed)
    if (typed and seed is None) or level is None:
        raise UsageError("Level and seed are whole numbers.",
                         next_step="Leave the seed empty to have it drawn.")
    own = sent.get("circuit_file")
    circuit = practice.add_circuit(own) if own.strip() else sent.get("circuit")
    return circuit, level, seed


@router.get("/practice/progress")
def progress(request: Request, who: str = "") -> Response:
    """Show what a person has practised."""
    return page(request, "practice_progress.html",
                found=practice_of(request).progress(who or who_is(request)))


@router.get("/practice/sheet")
def sheet(request: Request, who: str = "") -> Response:
    """Show a person's sign-off sheet, ready to print."""
    return _sheet(request, who or who_is(request), {})


def _sheet(request: Request, who: str, fields: Mapping[str, str], refusal: Refusal | None = None
           ) -> Response:
    return page(request, "practice_sheet.html", refusal.status if refusal else 200,
                sheet=practice_of(request).sheet(who), fields=fields, refusal=refusal,
                may_sign=actor_of(request).may(Permission.SIGN_OFF), key=new_key())


@router.post("/practice/sheet")
def sign(request: Request, sent: FormSent) -> Response:
    """Sign a task of somebody's sheet, or take the signature back; a foreman's to do."""
    who, said = sent.get("apprentice"), (not sent.get("take_back"), sent.get("note"))
    try:
        practice_of(request).sign_off(who, sent.get("task"), sent.who, said, sent.key)
    except UsageError as error:
        if not who.strip():
            raise
        return _sheet(request, who, sent.fields, refusal_of(error))
    return see(f"/practice/sheet?{urlencode({'who': who})}")


@router.get("/practice/{exercise}")
def exercise(request: Request, exercise: str) -> Response:
    """Show an exercise; somebody without a name is asked for it first."""
    return _show(request, exercise, dict(request.query_params))


def _show(request: Request, exercise: str, fields: Mapping[str, str],
          refusal: Refusal | None = None) -> Response:
    practice, who = practice_of(request), who_is(request)
    if not who.strip():
        practice.drawn(exercise)
        return _choose(request, {"exercise": exercise}, refusal)
    view = practice.view(exercise, who)
    return page(request, "practice_exercise.html", refusal.status if refusal else 200, view=view,
                fields=fields, refusal=refusal, key=new_key(), quantities=QUANTITIES,
                instruments=INSTRUMENTS)


@router.post("/practice/{exercise}/readings")
def measure(request: Request, exercise: str, sent: FormSent) -> Response:
    """Take a reading; what cannot be read comes back with what was typed."""
    asked = Asked(**{name: sent.get(name) for name in (*KEPT, "predict")})
    try:
        practice_of(request).measure(exercise, sent.who, asked, sent.key)
    except ConflictError:
        raise
    except UsageError as error:
        return _show(request, exercise, sent.fields, refusal_of(error))
    kept = urlencode({name: sent.get(name) for name in KEPT if sent.get(name)})
    return see(f"/practice/{exercise}?{kept}#last")


@router.post("/practice/{exercise}/repair")
def repair(request: Request, exercise: str, sent: FormSent) -> Response:
    """End an exercise with the repair named, or by giving up."""
    wanted = "" if sent.get("give_up") else sent.get("repair")
    try:
        if not wanted and not sent.get("give_up"):
            raise UsageError("No repair is chosen.", next_step="Choose one, or give up.")
        practice_of(request).name_repair(exercise, sent.who, wanted, sent.key)
    except UsageError as error:
        return _show(request, exercise, sent.fields, refusal_of(error))
    return see(f"/practice/{exercise}#result")


@router.post("/practice/{exercise}/again")
def again(request: Request, exercise: str, sent: FormSent) -> Response:
    """Start the same exercise once more."""
    practice = practice_of(request)
    practice.start(sent.who, practice.drawn(exercise), sent.key)
    return see(f"/practice/{exercise}")
