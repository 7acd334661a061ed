import pytest

from tests.week.nursery import Nursery


@pytest.fixture
def template():
    return "nursery"


@pytest.fixture
def nursery(engine):
    return Nursery(engine)
