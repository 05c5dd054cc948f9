"""The foreman's pages: people and roles, paired devices, tokens of programs, pairing a device."""

from __future__ import annotations

import io
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from loomwright.errors import LoomwrightError
from loomwright.service.pairing import CODE_LIFE_S
from loomwright.service.pins import MIN_PIN
from loomwright.service.roles import ROLES, role_words
from loomwright.web.access_pages import access_of, pairing_of
from loomwright.web.failures import refusal_of
from loomwright.web.forms import Sent, sent_form, who_is
from loomwright.web.rendering import new_key
from loomwright.web.shared import page, see

__all__ = ["pairing_address", "qr_picture", "router"]

router = APIRouter(include_in_schema=False)
FormSent = Annotated[Sent, Depends(sent_form)]
NEWEST_CHANGES = 30


def _people(request: Request, error: LoomwrightError | None = None, **shown: Any) -> Response:
    access = access_of(request)
    refusal = refusal_of(error) if error else None
    values: dict[str, Any] = {"fields": {}, "secret": None, **shown}
    everybody = access.everybody()
    return page(
        request, "people.html", refusal.status if refusal else 200, refusal=refusal,
        people=[one for one in everybody if not one.left_at],
        gone=[one for one in everybody if one.left_at],
        devices=access.devices(), tokens=access.tokens(),
        roles={role: role_words(role) for role in ROLES}, shortest=MIN_PIN,
        changes=access.changes()[:NEWEST_CHANGES], key=new_key(),
        shared=request.app.state.settings.shared, **values)


@router.get("/people")
def people(request: Request) -> Response:
    """Show who works here, which devices are paired, and which programs may come in."""
    return _people(request)


@router.post("/people")
def add(request: Request, sent: FormSent) -> Response:
    """Add a person."""
    try:
        access_of(request).add(sent.get("name"), sent.get("role"), sent.get("pin"),
                               who_is(request))
    except LoomwrightError as error:
        kept = {name: sent.get(name) for name in ("name", "role")}
        return _people(request, error, fields=kept)
    return see("/people")


@router.post("/people/{person_id}/role")
def set_role(request: Request, person_id: int, sent: FormSent) -> Response:
    """Give a person another role."""
    try:
        access_of(request).set_role(person_id, sent.get("role"), who_is(request))
    except LoomwrightError as error:
        return _people(request, error)
    return see("/people")


@router.post("/people/{person_id}/pin")
def reset_pin(request: Request, person_id: int) -> Response:
    """Make up a new PIN for a person and show it once."""
    access = access_of(request)
    pin = access.reset_pin(person_id, who_is(request))
    name = access.store.person(person_id).name
    return _people(request, secret={"what": f"New PIN of {name}", "text": pin})


@router.post("/people/{person_id}/unlock")
def unlock(request: Request, person_id: int) -> Response:
    """Let a person who typed too many wrong PINs try again."""
    access_of(request).unlock(person_id, who_is(request))
    return see("/people")


@router.post("/people/{person_id}/leave")
def leave(request: Request, person_id: int) -> Response:
    """Note that a person works here no more."""
    try:
        access_of(request).leave(person_id, who_is(request))
    except LoomwrightError as error:
        return _people(request, error)
    return see("/people")


@router.post("/people/{person_id}/return")
def come_back(request: Request, person_id: int) -> Response:
    """Note that a person works here again."""
    access_of(request).come_back(person_id, who_is(request))
    return see("/people")


@router.post("/people/devices/{device_id}/end")
def end_device(request: Request, device_id: int) -> Response:
    """Unpair a device."""
    access_of(request).end_device(device_id, who_is(request))
    return see("/people")


@router.post("/people/tokens")
def add_token(request: Request, sent: FormSent) -> Response:
    """Make a token and show it once."""
    try:
        token, secret = access_of(request).add_token(
            sent.get("name"), sent.get("scope"), who_is(request))
    except LoomwrightError as error:
        return _people(request, error)
    return _people(request, secret={"what": f"Token of {token.name}", "text": secret})


@router.post("/people/tokens/{token_id}/end")
def end_token(request: Request, token_id: int) -> Response:
    """Revoke a token."""
    access_of(request).end_token(token_id, who_is(request))
    return see("/people")


# --- pairing -----------------------------------------------------------------------------------


def pairing_address(address: str, code: str) -> str:
    """Return the address that a device opens to be paired."""
    return f"{address.rstrip('/')}/pair?code={code}"


def qr_picture(text: str) -> str:
    """Return a QR code as SVG for a page, always dark on light so that cameras read it."""
    import segno

    out = io.BytesIO()
    segno.make(text, error="m").save(
        out, kind="svg", scale=6, border=4, dark="#000", light="#fff", xmldecl=False, nl=False,
        omitsize=True, svgclass="qr", lineclass=None, title="Pairing code")
    return out.getvalue().decode("utf-8")


@router.get("/share")
def share(request: Request) -> Response:
    """Show how a device is paired."""
    return page(request, "share.html", code="", picture="", address="",
                shared=request.app.state.settings.shared, minutes=CODE_LIFE_S // 60)


@router.post("/share")
def show_code(request: Request) -> Response:
    """Show a fresh pairing code with its QR code."""
    code = pairing_of(request).issue()
    base = request.app.state.settings.address or str(request.base_url)
    return page(request, "share.html", code=code, address=base, shared=True,
                picture=qr_picture(pairing_address(base, code)), minutes=CODE_LIFE_S // 60)
