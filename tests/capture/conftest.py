from __future__ import annotations

import pytest
import sqlalchemy as sa

import benchwalk.records as r
from benchwalk.records.database import session
from tests.capture.a_phone import APhone
from tests.capture.in_chromium import chromium_thread, opened, serving


@pytest.fixture
def phone(engine, small):
    return APhone(engine, small)


@pytest.fixture(scope="session")
def browser_thread():
    with chromium_thread() as held:
        yield held


@pytest.fixture
def operation_uid(phone):
    with session(phone.engine, phone.n) as s:
        return str(s.scalars(sa.select(r.Operation.uid)).first())


@pytest.fixture
def new_tab(phone, browser_thread, operation_uid):
    """``new_tab("name")``: a phone of that name, paired, in a profile of its own."""
    with serving(phone) as network:

        def make(name="phone", broken=None):
            tab = opened(*browser_thread, network, broken)
            tab.open(name, phone, operation_uid)
            return tab

        yield make


@pytest.fixture
def tab(new_tab):
    return new_tab()
