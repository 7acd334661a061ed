import pytest


@pytest.fixture
def o(small):
    return small
