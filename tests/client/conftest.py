"""The client, against a really running service over each of the two real databases."""

from collections.abc import Iterator

import pytest

from service.client import Manner, Wattwright
from tests.api.conftest import Service, house, running, service
from tests.client.proxy import Line, broken_line

__all__ = ["house", "running", "service"]
# Three pauses that nobody has to sit through, and a patience that outlasts a slow machine.
BRISK = Manner(timeout_s=30.0, tries=4, pause_s=0.001)
# Gives an answer up soon, for lines on which none comes.
HASTY = Manner(timeout_s=1.0, tries=4, pause_s=0.001)


@pytest.fixture
def wattwright(service: Service) -> Iterator[Wattwright]:
    with Wattwright(service.base, by="night crew", manner=BRISK) as client:
        yield client


@pytest.fixture
def line(service: Service) -> Iterator[Line]:
    """A line to the service that breaks when told to."""
    with broken_line(service.base) as line:
        yield line


@pytest.fixture
def over_the_line(line: Line) -> Iterator[Wattwright]:
    with Wattwright(line.url, by="night crew", manner=BRISK) as client:
        yield client


@pytest.fixture
def hasty(line: Line) -> Iterator[Wattwright]:
    """Over the same line, without patience."""
    with Wattwright(line.url, by="night crew", manner=HASTY) as client:
        yield client
