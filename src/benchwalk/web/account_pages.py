"""Signing in and out, links that work once, and one's own account."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable
from typing import Annotated

from fastapi import APIRouter, Form
from starlette.responses import Response

from benchwalk.catalogue import Refusal
from benchwalk.records.accounts import links, people, signing_in
from benchwalk.records.accounts.audit import note
from benchwalk.records.accounts.people import AccountRefusedError
from benchwalk.records.accounts.tables import Link
from benchwalk.records.accounts.tokens import digest_of
from benchwalk.records.ledger import Ledgered
from benchwalk.web.base import (
    COOKIE,
    KNOWN,
    AVisitor,
    InScope,
    Missing,
    Visitor,
    cookie,
    inside,
    page,
    see,
)

router = APIRouter()
Text = Annotated[str, Form(max_length=300)]
OptionalText = Annotated[str, Form(max_length=2000)]
KNOWN_FOR = dt.timedelta(days=365)
TOO_MANY = 429


@router.get("/sign-in")
def sign_in_form(visitor: AVisitor, next: str = "/") -> Response:  # noqa: A002 - in addresses
    """The form; nothing in it says who has an account."""
    return page(visitor, "sign-in.html", next=inside(next), fault="", given="")


@router.post("/sign-in")
def sign_in(
    visitor: AVisitor,
    name: Text,
    passphrase: Text,
    next: OptionalText = "/",  # noqa: A002 - in addresses
) -> Response:
    """Sign somebody in with a new token; a wrong name and a wrong passphrase read alike."""
    wait_s, browser = _waits(visitor, name)
    source, limits = visitor.source, visitor.served.limits
    if wait_s:
        fault = _wait(wait_s)
        answer = _sign_in_again(visitor, name, next, fault, TOO_MANY)
        answer.headers["Retry-After"] = str(wait_s)
        return answer
    person = signing_in.who_proves(visitor.session, name, passphrase)
    if person is None:
        limits.wrong(source, _key(name), browser)
        _note_refused(visitor, name)
        return _sign_in_again(visitor, name, next, Refusal("web.wrong"), 401)
    limits.right(source, _key(name), browser)
    return _enter(visitor, person, inside(next), known=browser is not None)


def _wait(wait_s: int) -> Refusal:
    return Refusal("web.wait", n=-(-wait_s // 60))


def _waits(visitor: Visitor, name: str) -> tuple[int, str | None]:
    """Seconds to wait before a guess at this name, and the browser's token where it is known."""
    shown = visitor.request.cookies.get(cookie(visitor.request, KNOWN))
    known = shown if shown and signing_in.knows_browser(visitor.session, shown, name) else None
    return visitor.served.limits.wait_s(visitor.source, _key(name), known), known


def _key(name: str) -> str:
    """The name as guesses are counted: as it is compared, in so many characters."""
    return people.as_sign_in_name(name)


def _sign_in_again(
    visitor: Visitor, name: str, after: str, fault: Refusal, status: int
) -> Response:
    said = fault.said(visitor.locale)
    return page(visitor, "sign-in.html", status=status, next=inside(after), fault=said, given=name)


def _note_refused(visitor: Visitor, name: str) -> None:
    """Note a refusal, with the person where the name is somebody's and without the name."""
    with visitor.writing() as s:
        person = people.who_has_name(s, name)
        note(s, "sign_in_refused", person=person, source=visitor.source)


def _enter(visitor: Visitor, person: uuid.UUID, after: str, *, known: bool = False) -> Response:
    """Begin a sign-in and hand its token out; the one before in this browser ends."""
    request = visitor.request
    older = request.cookies.get(cookie(request, COOKIE))
    with visitor.writing(person) as s:
        if older and (was := signing_in.signed_in(s, older)) is not None:
            signing_in.end(s, was.digest, person=was.person, kind="sign_in_ended")
        browser = request.headers.get("user-agent", "")
        token = signing_in.begin(s, person, browser=browser, source=visitor.source)
        remembered = None if known else signing_in.remember_browser(s, person)
    answer = see(after)
    _set_cookie(visitor, answer, COOKIE, token, signing_in.LONGEST_SIGN_IN)
    if remembered:
        _set_cookie(visitor, answer, KNOWN, remembered, KNOWN_FOR)
    return answer


def _set_cookie(
    visitor: Visitor, answer: Response, name: str, value: str, lasts: dt.timedelta
) -> None:
    request = visitor.request
    answer.set_cookie(
        cookie(request, name),
        value,
        max_age=int(lasts.total_seconds()),
        path="/",
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="lax",
    )


@router.post("/sign-out")
def sign_out(visitor: AVisitor) -> Response:
    """End this browser's sign-in. Done twice, it is still done."""
    held = cookie(visitor.request, COOKIE)
    token = visitor.request.cookies.get(held, "")
    person = signing_in.signed_in(visitor.session, token)
    if person is not None:
        with visitor.writing(person.person) as s:
            signing_in.end(s, person.digest, person=person.person)
    answer = see("/sign-in")
    answer.delete_cookie(
        held, path="/", secure=visitor.request.url.scheme == "https", httponly=True
    )
    return answer


@router.get("/link/{token}")
def link(visitor: AVisitor, token: str) -> Response:
    """What a link is for. Reading it uses nothing up: programs look at links before people do."""
    return _link_page(visitor, token, _link(visitor.session, token))


def _link(s: Ledgered, token: str, *purposes: str) -> Link:
    found = links.find(s, token, *(purposes or ("set_up", "choose", "enter")))
    if found is None:
        raise Refusal("web.link_over")
    return found


def _link_page(
    visitor: Visitor,
    token: str,
    found: Link,
    fault: Refusal | None = None,
    *,
    name: str = "",
    sign_in_name: str = "",
) -> Response:
    person = found.person_id and people.account(visitor.session, found.person_id)
    return page(
        visitor,
        "link.html",
        status=400 if fault else 200,
        purpose=found.purpose,
        token=token,
        whose=person,
        fault=fault.said(visitor.locale) if fault else "",
        name=name,
        sign_in_name=sign_in_name,
    )


@router.post("/link/{token}/set-up")
def set_up(
    visitor: AVisitor, token: str, name: Text, sign_in_name: Text, passphrase: Text
) -> Response:
    """The first person of an operation: a manager, who adds the others."""
    found = _link(visitor.session, token, "set_up")
    try:
        with visitor.writing() as s:
            held = _link(s, token, "set_up")
            if people.anybody_signs_in(s):
                raise AccountRefusedError("web.set_up_already")
            person = people.add_person(s, name, "manager", sign_in_name)
            people.set_passphrase(s, person, passphrase)
            links.use(s, held, source=visitor.source)
    except Refusal as fault:
        return _link_page(visitor, token, found, fault, name=name, sign_in_name=sign_in_name)
    return _enter(visitor, person, "/")


@router.post("/link/{token}/choose")
def choose(visitor: AVisitor, token: str, passphrase: Text) -> Response:
    """Choose a passphrase, the first or another; every sign-in of before ends."""
    found = _link(visitor.session, token, "choose")
    try:
        with visitor.writing(found.person_id) as s:
            held = _link(s, token, "choose")
            assert held.person_id is not None  # a link to choose is made for somebody
            people.set_passphrase(s, held.person_id, passphrase)
            links.use(s, held, source=visitor.source)
    except Refusal as fault:
        return _link_page(visitor, token, found, fault)
    assert found.person_id is not None
    return _enter(visitor, found.person_id, "/")


@router.post("/link/{token}/enter")
def enter(visitor: AVisitor, token: str) -> Response:
    """Enter a class or the demo; the link is used up."""
    with visitor.writing() as s:
        held = _link(s, token, "enter")
        person = held.person_id
        assert person is not None  # a link to enter is made for somebody
        links.use(s, held, source=visitor.source)
    return _enter(visitor, person, "/")


@router.get("/account")
def account(scope: InScope) -> Response:
    """One's own account: passphrase, PIN, and where one is signed in."""
    return _account_page(scope)


def _account_page(scope: InScope, fault: Refusal | None = None) -> Response:
    mine = people.account(scope.session, scope.person.person)
    if mine is None:
        raise Missing
    return page(
        scope,
        "account.html",
        status=400 if fault else 200,
        mine=mine,
        sign_ins=signing_in.open_sign_ins(scope.session, mine.id),
        this=scope.person.digest,
        zone=scope.served.zone,
        fault=fault.said(scope.locale) if fault else "",
    )


@router.post("/account/passphrase")
def change_passphrase(scope: InScope, current: Text, passphrase: Text) -> Response:
    """Another passphrase, for whoever knows the one of now; every sign-in ends, this one anew."""
    mine = scope.person.person
    fault = _changed(scope, current, lambda s: people.set_passphrase(s, mine, passphrase))
    return _account_page(scope, fault) if fault else _enter(scope, mine, "/account")


@router.post("/account/pin")
def change_pin(scope: InScope, current: Text, pin: Text) -> Response:
    """Another PIN for the phones, for whoever knows the passphrase."""
    mine = scope.person.person
    fault = _changed(scope, current, lambda s: people.set_pin(s, mine, pin))
    return _account_page(scope, fault) if fault else see("/account")


def _changed(scope: InScope, current: str, change: Callable[[Ledgered], None]) -> Refusal | None:
    """Why a person's own secret was not changed; None where it was."""
    fault = _unproved(scope, current)
    if fault is None:
        try:
            with scope.writing() as s:
                change(s)
        except Refusal as refused:
            return refused
    return fault


def _unproved(scope: InScope, passphrase: str) -> Refusal | None:
    """Why a person is not taken at their word: they guessed too often, or guessed wrong."""
    mine = people.account(scope.session, scope.person.person)
    name = (mine.sign_in_name if mine else None) or scope.person.pseudonym
    browser = f"sign-in {scope.person.digest.hex()}"
    wait_s = scope.served.limits.wait_s(scope.source, name, browser)
    if wait_s:
        return _wait(wait_s)
    if signing_in.who_proves(scope.session, name, passphrase) == scope.person.person:
        return None
    scope.served.limits.wrong(scope.source, name, browser)
    return Refusal("web.wrong_current")


@router.post("/account/end")
def end_sign_in(scope: InScope, which: Text) -> Response:
    """End one of one's own sign-ins, or all others."""
    mine = scope.person.person
    with scope.writing() as s:
        if which == "others":
            people.end_sign_ins(s, mine, but=scope.person.digest)
            note(s, "sign_in_ended", person=mine)
        elif not signing_in.end(s, _digest(which), person=mine, kind="sign_in_ended"):
            raise Missing
    return see("/account")


def _digest(text: str) -> bytes:
    """The digest that a form names a sign-in by; of anything else, one that nobody has."""
    try:
        return bytes.fromhex(text)
    except ValueError:
        return digest_of(text)
