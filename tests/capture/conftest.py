import pytest

from tests.capture.a_phone import APhone


@pytest.fixture
def phone(engine):
    return APhone(engine)
