"""A write transaction on each real database, given up at the end of the test."""

from collections.abc import Iterator

import pytest
from sqlalchemy.orm import Session

from service.store.work import Store


@pytest.fixture
def session(store: Store) -> Iterator[Session]:
    with store.writing("tests") as session:
        yield session
