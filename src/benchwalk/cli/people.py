"""Who may come in: people, roles, links to choose a passphrase; for whoever runs the server."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from benchwalk.catalogue import say
from benchwalk.cli.app import AsJson, Data, Lang, Language, app, tell, tell_json, told
from benchwalk.cli.records import reading, recording

if TYPE_CHECKING:
    import uuid

    from benchwalk.records.ledger import Ledgered

account = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    help="Who may come in, and what they may do: list, add, link, role, end.",
    epilog="Example: benchwalk account add Ana --role grower",
)
app.add_typer(account, name="account")
SignsInAs = Annotated[str, typer.Argument(help="Name the person signs in with.")]
Role = Annotated[str, typer.Option(help="scout, applicator, grower, manager or advisor.")]


@account.command("list", epilog="Example: benchwalk account list")
@told
def list_(lang: Lang = Language.EN, as_json: AsJson = False, data: Data = None) -> None:
    """Everybody, their role, and whether they can come in. No secret is shown."""
    from benchwalk.records.accounts import people

    with reading(data) as s:
        held = people.accounts(s)
    if as_json:
        rows = [
            {
                "pseudonym": one.pseudonym,
                "name": one.name,
                "role": one.role,
                "signs_in_as": one.sign_in_name,
                "has_passphrase": one.has_passphrase,
                "has_pin": one.has_pin,
            }
            for one in held
        ]
        tell_json(rows)
        return
    for one in held:
        way = "web.signs_in_as" if one.has_passphrase else "web.signs_in_not"
        said = say(way, lang, name=one.sign_in_name) if one.has_passphrase else say(way, lang)
        role = say(f"web.role_{one.role}", lang)
        tell(f"{one.shown} ({one.pseudonym}): {role}; {said}")


@account.command(epilog="Example: benchwalk account add Ana --role grower")
@told
def add(
    name: Annotated[str, typer.Argument(help="Name of the person, as others know them.")],
    role: Role,
    sign_in_name: Annotated[str, typer.Option("--as", help="Name to sign in with.")] = "",
    lang: Lang = Language.EN,
    data: Data = None,
) -> None:
    """Add a person; printed is the end of the link by which they choose a passphrase."""
    from benchwalk.records.accounts import links, people

    with recording(data) as s:
        person = people.add_person(s, name, role, sign_in_name or name)
        token = links.make(s, "choose", person)
    _say_link(token, lang)


@account.command(epilog="Example: benchwalk account link ana")
@told
def link(who: SignsInAs, lang: Lang = Language.EN, data: Data = None) -> None:
    """Another link to choose a passphrase, for somebody who lost theirs."""
    from benchwalk.records.accounts import links

    with recording(data) as s:
        token = links.make(s, "choose", _person(s, who))
    _say_link(token, lang)


@account.command(epilog="Example: benchwalk account role ana --role manager")
@told
def role(who: SignsInAs, role: Role, lang: Lang = Language.EN, data: Data = None) -> None:
    """Give somebody another role; where they are signed in ends."""
    from benchwalk.records.accounts import people

    with recording(data) as s:
        people.change_role(s, _person(s, who), role)
    typer.echo(say("account.role_is", lang, name=who, role=say(f"web.role_{role}", lang)))


@account.command(epilog="Example: benchwalk account end ana")
@told
def end(who: SignsInAs, lang: Lang = Language.EN, data: Data = None) -> None:
    """End every sign-in of somebody, as after a lost laptop."""
    from benchwalk.records.accounts import people
    from benchwalk.records.accounts.audit import note

    with recording(data) as s:
        person = _person(s, who)
        n = people.end_sign_ins(s, person)
        note(s, "sign_in_ended", person=person)
    typer.echo(say("account.ended", lang, n=n, name=who))


def _person(s: Ledgered, sign_in_name: str) -> uuid.UUID:
    from benchwalk.records.accounts import people

    found = people.who_has_name(s, sign_in_name)
    if found is None:
        known = sorted(one.sign_in_name for one in people.accounts(s) if one.sign_in_name)
        raise people.AccountRefusedError(
            "account.no_such_name", name=sign_in_name, known=", ".join(known) or "-"
        )
    return found


def _say_link(token: str, lang: str) -> None:
    typer.echo(f"{say('account.link_end', lang)}\n/link/{token}")
