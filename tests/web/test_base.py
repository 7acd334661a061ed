"""What every page stands on: who may use it, what it is served with, what it asks the database."""

from __future__ import annotations

import pytest
from fastapi.routing import APIRoute

from benchwalk.web import roles
from benchwalk.web.app import ROUTERS
from tests.web.conftest import ROLES


def routes() -> set[tuple[str, str]]:
    """(method, path) of every route of the application, HEAD left out as it follows GET."""
    held = [route for router in ROUTERS for route in router.routes]
    assert all(isinstance(route, APIRoute) for route in held)
    return {(m, route.path) for route in held for m in route.methods if m != "HEAD"}


def test_every_route_has_its_row_in_the_table_of_roles_and_every_row_its_route():
    assert routes() == set(roles.rights())


@pytest.mark.parametrize("role", ROLES)
def test_the_week_opens_for_every_role(signed_in, role):
    assert signed_in(role).get("/").status_code == 200
