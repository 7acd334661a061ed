import pytest

from tests.conftest import NURSERY
from tests.week.nursery import Nursery


@pytest.fixture
def template():
    return NURSERY


@pytest.fixture
def nursery(engine):
    return Nursery(engine)
