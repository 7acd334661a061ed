"""People and their roles, the links they choose a passphrase by, and what was done."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Form
from starlette.responses import Response

from benchwalk.catalogue import Refusal
from benchwalk.records.accounts import audit, links, people
from benchwalk.records.accounts.people import Account
from benchwalk.web.base import InScope, Missing, page, see

router = APIRouter()
Text = Annotated[str, Form(max_length=300)]
NOTHING: Mapping[str, str] = {}


@router.get("/people")
def everybody(scope: InScope) -> Response:
    """Everybody with their role."""
    return _everybody(scope)


def _everybody(
    scope: InScope, fault: Refusal | None = None, typed: Mapping[str, str] = NOTHING
) -> Response:
    return page(
        scope,
        "people.html",
        status=400 if fault else 200,
        people=people.accounts(scope.session),
        roles=people.ROLES,
        typed=typed,
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
        typed = {"name": name, "sign_in_name": sign_in_name, "role": role}
        return _everybody(scope, fault, typed)
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
