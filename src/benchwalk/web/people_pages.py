"""People and their roles, the links they choose a passphrase by, phones, and what was done."""

from __future__ import annotations

import uuid
from typing import Annotated

import segno
from fastapi import APIRouter, Form
from markupsafe import Markup
from starlette.responses import Response

from benchwalk.catalogue import Refusal
from benchwalk.records.accounts import audit, devices, links, people
from benchwalk.records.accounts.people import Account
from benchwalk.records.accounts.tokens import TYPED
from benchwalk.web.base import InScope, Missing, page, see

router = APIRouter()
Text = Annotated[str, Form(max_length=300)]


@router.get("/people")
def everybody(scope: InScope) -> Response:
    """Everybody with their role."""
    return _everybody(scope)


def _everybody(scope: InScope, fault: Refusal | None = None) -> Response:
    return page(
        scope,
        "people.html",
        status=400 if fault else 200,
        people=people.accounts(scope.session),
        roles=people.ROLES,
        fault=fault.said(scope.locale) if fault else "",
    )


@router.post("/people")
def add(scope: InScope, name: Text, sign_in_name: Text, role: Text) -> Response:
    """Add somebody, and show the link by which they choose a passphrase."""
    try:
        with scope.writing() as s:
            person = people.add_person(s, name, role, sign_in_name)
            token = links.make(s, "choose", person)
    except Refusal as fault:
        return _everybody(scope, fault)
    return _one(scope, person, token=token)


@router.get("/people/audit")
def done(scope: InScope) -> Response:
    """What was done with accounts, the newest first."""
    shown = {one.id: one.shown for one in people.accounts(scope.session)}
    return page(
        scope,
        "audit.html",
        events=audit.events(scope.session),
        shown=shown,
        zone=scope.served.zone,
    )


@router.get("/people/{person}")
def one(scope: InScope, person: uuid.UUID) -> Response:
    """One person."""
    return _one(scope, person)


def _one(
    scope: InScope, person: uuid.UUID, *, token: str = "", fault: Refusal | None = None
) -> Response:
    link = f"{scope.request.base_url}link/{token}" if token else ""
    return page(
        scope,
        "person.html",
        status=400 if fault else 200,
        one=_account(scope, person),
        roles=people.ROLES,
        link=link,
        fault=fault.said(scope.locale) if fault else "",
    )


def _account(scope: InScope, person: uuid.UUID) -> Account:
    found = people.account(scope.session, person)
    if found is None:
        raise Missing
    return found


@router.post("/people/{person}/role")
def role(scope: InScope, person: uuid.UUID, role: Text) -> Response:
    """Another role; the person's sign-ins end."""
    _account(scope, person)
    try:
        with scope.writing() as s:
            people.change_role(s, person, role)
    except Refusal as fault:
        return _one(scope, person, fault=fault)
    return see(f"/people/{person}")


@router.post("/people/{person}/link")
def link(scope: InScope, person: uuid.UUID, sign_in_name: Text) -> Response:
    """A link by which a person chooses a passphrase, shown this once."""
    _account(scope, person)
    try:
        with scope.writing() as s:
            people.name_sign_in(s, person, sign_in_name)
            token = links.make(s, "choose", person)
    except Refusal as fault:
        return _one(scope, person, fault=fault)
    return _one(scope, person, token=token)


@router.post("/people/{person}/remove")
def remove(scope: InScope, person: uuid.UUID, sure: Text) -> Response:
    """Empty a person's name and secrets; what they recorded stays, under the pseudonym."""
    _account(scope, person)
    try:
        if sure != "yes":
            raise Refusal("web.not_sure")
        with scope.writing() as s:
            people.remove_person(s, person)
    except Refusal as fault:
        return _one(scope, person, fault=fault)
    return see("/people")


@router.get("/phones")
def phones(scope: InScope) -> Response:
    """Phones that are paired, and when each was last heard."""
    return _phones(scope)


def _phones(scope: InScope, offered: devices.Offered | None = None) -> Response:
    # the secret stands behind #: a browser sends no fragment, so no log on the way holds it
    address = f"{scope.request.base_url}pair#{offered.secret}" if offered else ""
    return page(
        scope,
        "phones.html",
        phones=devices.phones(scope.session),
        zone=scope.served.zone,
        address=address,
        picture=_picture(address) if address else None,
        typed=_in_halves(offered.typed) if offered else "",
    )


def _picture(address: str) -> Markup:
    drawn = segno.make(address, micro=False).svg_inline(
        scale=5, border=4, svgclass="qr", lineclass=None, omitsize=False
    )
    return Markup(drawn)  # drawn here, of numbers only


def _in_halves(code: str) -> str:
    return f"{code[: TYPED // 2]} {code[TYPED // 2 :]}"


@router.post("/phones/pair")
def offer(scope: InScope) -> Response:
    """Offer a pairing: a picture to scan and eight characters to type, for ten minutes."""
    with scope.writing() as s:
        offered = devices.offer_pairing(s)
    return _phones(scope, offered)


@router.post("/phones/{device}/revoke")
def revoke(scope: InScope, device: uuid.UUID) -> Response:
    """Take a phone's token back."""
    if device not in {phone.id for phone in devices.phones(scope.session)}:
        raise Missing
    with scope.writing() as s:
        devices.revoke(s, device)
    return see("/phones")
