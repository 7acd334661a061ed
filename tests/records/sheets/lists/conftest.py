import pytest

from tests.conftest import NURSERY
from tests.records.sheets.lists.small_list import nursery

__all__ = ["nursery", "template"]


@pytest.fixture
def template():
    return NURSERY
