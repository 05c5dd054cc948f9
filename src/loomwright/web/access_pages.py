"""The door: pairing a device, signing in and out, the first foreman, and one's own account."""

from __future__ import annotations

import ipaddress
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from loomwright.errors import LoomwrightError, NotAllowedError, NotFoundError, UsageError
from loomwright.service.access import DEVICE_IDLE, Access
from loomwright.service.pairing import Pairing
from loomwright.service.pins import MIN_PIN
from loomwright.web.failures import Refusal, refusal_of
from loomwright.web.forms import WHO_COOKIE, Sent, number_in, sent_form, who_value
from loomwright.web.gate import DEVICE_COOKIE, SESSION_COOKIE
from loomwright.web.permits import actor_of
from loomwright.web.shared import page, see

__all__ = ["access_of", "pairing_of", "router", "safe_next"]

router = APIRouter(include_in_schema=False)
FormSent = Annotated[Sent, Depends(sent_form)]
YEAR_S = 31_536_000


def access_of(request: Request) -> Access:
    """Return the people of the application."""
    found: Access = request.app.state.access
    return found


def pairing_of(request: Request) -> Pairing:
    """Return the pairing codes of the application. NotFoundError where it is not shared."""
    if not request.app.state.settings.shared:
        raise NotFoundError("This program is not on the workshop's network.",
                            next_step="Start it with 'loomwright serve --share'.")
    found: Pairing = request.app.state.pairing
    return found


def safe_next(address: str) -> str:
    """Return where to go after signing in: a path of ours, never another site."""
    plain = address.startswith("/") and not address.startswith(("//", "/\\"))
    return address if plain and address.isprintable() and "\\" not in address else "/"


def _keep(request: Request, response: Response, name: str, value: str, life_s: int | None = None
          ) -> Response:
    response.set_cookie(name, value, max_age=life_s, httponly=True, samesite="strict",
                        secure=request.url.scheme == "https", path="/")
    return response


# --- pairing -----------------------------------------------------------------------------------


@router.get("/pair")
def pair_form(request: Request, code: str = "") -> Response:
    """Ask a device for the pairing code."""
    pairing_of(request)
    return _pair_form(request, {"code": code})


def _pair_form(request: Request, fields: dict[str, str], refusal: Refusal | None = None
               ) -> Response:
    paired = bool(access_of(request).device(request.cookies.get(DEVICE_COOKIE, "")))
    return page(request, "door_pair.html", refusal.status if refusal else 200, fields=fields,
                refusal=refusal, paired=paired)


@router.post("/pair")
def pair(request: Request, sent: FormSent) -> Response:
    """Use up a code and pair this device."""
    address = request.client.host if request.client else ""
    try:
        pairing_of(request).redeem(sent.get("code"), address)
    except NotFoundError:
        raise
    except LoomwrightError as error:
        return _pair_form(request, dict(sent.fields), refusal_of(error))
    secret = access_of(request).add_device(sent.get("device"))[1]
    request.app.state.paired()
    life_s = int(DEVICE_IDLE.total_seconds())
    return _keep(request, see("/sign-in"), DEVICE_COOKIE, secret, life_s)


# --- signing in --------------------------------------------------------------------------------


@router.get("/sign-in")
def sign_in_form(request: Request, next: str = "/") -> Response:  # noqa: A002 (as in the address)
    """Ask who is working, and for the PIN."""
    if not access_of(request).people():
        return see("/set-up")
    return _sign_in_form(request, {"next": safe_next(next)})


def _sign_in_form(request: Request, fields: dict[str, str], refusal: Refusal | None = None
                  ) -> Response:
    return page(request, "door_sign_in.html", refusal.status if refusal else 200, refusal=refusal,
                people=access_of(request).people(), fields=fields)


@router.post("/sign-in")
def sign_in(request: Request, sent: FormSent) -> Response:
    """Open a session; whatever session this browser had ends, and none is ever taken on."""
    access, person = access_of(request), sent.get("person")
    device = access.device(request.cookies.get(DEVICE_COOKIE, ""))
    try:
        secret = access.sign_in(number_in(person) or 0, sent.get("pin"), device)
    except LoomwrightError as error:
        kept = {"next": safe_next(sent.get("next")), "person": person}
        return _sign_in_form(request, kept, refusal_of(error))
    _end_old(request, access)
    return _keep(request, see(safe_next(sent.get("next"))), SESSION_COOKIE, secret)


def _end_old(request: Request, access: Access) -> None:
    old = request.cookies.get(SESSION_COOKIE, "")
    if old:
        access.sign_out(old)


@router.post("/sign-out")
def sign_out(request: Request) -> Response:
    """End this session."""
    _end_old(request, access_of(request))
    response = see("/who")
    response.delete_cookie(SESSION_COOKIE, path="/", httponly=True, samesite="strict")
    return response


@router.post("/sign-out/everywhere")
def sign_out_everywhere(request: Request) -> Response:
    """End all sessions of whoever is signed in."""
    person = actor_of(request).person
    if person:
        access_of(request).sign_out_everywhere(person)
    return sign_out(request)


# --- the first foreman ---------------------------------------------------------------------------


def _at_the_host(request: Request) -> bool:
    """Return whether a request comes from this machine itself, and says so in its address."""
    try:
        peer = ipaddress.ip_address(request.client.host if request.client else "")
    except ValueError:
        return False
    passed_on = any(name in request.headers for name in ("forwarded", "via", "x-forwarded-for"))
    return peer.is_loopback and not passed_on


@router.get("/set-up")
def set_up_form(request: Request) -> Response:
    """Ask for the first foreman."""
    if access_of(request).people():
        return see("/sign-in")
    return _set_up_form(request, {})


def _set_up_form(request: Request, fields: dict[str, str], refusal: Refusal | None = None
                 ) -> Response:
    return page(request, "door_set_up.html", refusal.status if refusal else 200, fields=fields,
                refusal=refusal, here=_at_the_host(request), shortest=MIN_PIN)


@router.post("/set-up")
def set_up(request: Request, sent: FormSent) -> Response:
    """Add the first foreman, at the workshop computer only, and sign them in."""
    access, name, pin = access_of(request), sent.get("name"), sent.get("pin")
    if not _at_the_host(request):
        raise NotAllowedError("The first foreman is set up at the workshop computer.",
                              next_step="Open the page there.")
    try:
        if pin != sent.get("again"):
            raise UsageError("The two PINs differ.", next_step="Type the same one twice.")
        person = access.add(name, "foreman", pin, name, first=True)
    except LoomwrightError as error:
        return _set_up_form(request, {"name": name}, refusal_of(error))
    device = access.device(request.cookies.get(DEVICE_COOKIE, ""))
    secret = access.sign_in(person.id, pin, device)
    _end_old(request, access)
    return _keep(request, see("/people"), SESSION_COOKIE, secret)


# --- one's own account ---------------------------------------------------------------------------


@router.get("/who")
def who(request: Request) -> Response:
    """Show who is working; at a machine's own screen a name is enough."""
    return _who(request)


def _who(request: Request, refusal: Refusal | None = None, done: str = "") -> Response:
    return page(request, "who.html", refusal.status if refusal else 200, refusal=refusal,
                people=access_of(request).people(), done=done,
                shared=request.app.state.settings.shared)


@router.post("/who")
def set_who(request: Request, sent: FormSent) -> Response:
    """Keep the name in this browser, where nobody is signed in and nobody has to be."""
    if actor_of(request).kind != "host":
        return see("/who")
    return _keep(request, see("/"), WHO_COOKIE, who_value(sent.get("name")), YEAR_S)


@router.post("/who/pin")
def change_pin(request: Request, sent: FormSent) -> Response:
    """Change one's own PIN; one is signed out everywhere else."""
    access, actor = access_of(request), actor_of(request)
    try:
        if sent.get("pin") != sent.get("again"):
            raise UsageError("The two PINs differ.", next_step="Type the same one twice.")
        access.change_pin(actor.person, sent.get("old"), sent.get("pin"), actor.device)
        secret = access.sign_in(actor.person, sent.get("pin"), actor.device)
    except LoomwrightError as error:
        return _who(request, refusal_of(error))
    return _keep(request, _who(request, done="The PIN is changed."), SESSION_COOKIE, secret)
