"""A published table as cases of one test, each named by its row."""

from collections.abc import Sequence

import pytest
from _pytest.mark import ParameterSet


def named(row_id: str, rows: Sequence[tuple[object, ...]]) -> list[ParameterSet]:
    """The rows with the id of the check and their first value for a name: R6-18."""
    return [pytest.param(*row, id=f"{row_id}-{row[0]}") for row in rows]
