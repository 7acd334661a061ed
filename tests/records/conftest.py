import pytest

from tests.records.small_operation import SmallOperation


@pytest.fixture
def o(engine):
    operation = SmallOperation(engine)
    yield operation
    operation.s.close()
