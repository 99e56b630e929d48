"""`wattwright issue` and `wattwright return`: the same beside the database and through a service."""

import shlex

import pytest

from tests.cli.conftest import Ran, Twins

# In this order; each with its exit code and what its output must say.
ACTS = [
    ("issue TW DC-41 DC-44", 1, "DC-44 is with SQ until 2027-01-19"),
    ("issue TW BT-22 DC-42 --each --json", 1, '"how": "its hold"|"how": "drawn"|"how": "new"'),
    ("return PS-02 DC-03 --json", 0, '"days_late": 22'),
    ("return PS-02", 1, "PS-02 was not out: the book has it at B1, seen 2026-11-25"),
    ("return PS-21 --bad 'hums at half load'", 0, "Q1"),
    ("return PS-21 --undo --json", 0, '"with_production": "FR"'),
    ("return PS-22 --missing ''", 0, "not back from FR, due 2026-11-30"),
    ("return PS-22", 0, "good"),
    ("return PS-23 --missing ''", 0, "Missing"),
    ("return PS-23 --undo --json", 0, '"undone": "missing"'),
    ("return PS-23 --bad ' '", 2, "--bad says what was found"),
    ("return ZZ-1 --json", 1, "nothing has the tag ZZ-1"),
    ("issue ZZ PS-03", 1, "no production has the code 'ZZ'"),
    ("return PS-03 --missing x --undo", 2, "--missing stands alone"),
    ("return PS-03 --suspect", 2, "--suspect goes with --bad"),
]


def words(command: str) -> list[str]:
    return shlex.split(command)


def test_gear_moves_alike_beside_the_database_and_through_a_service(twins: Twins) -> None:
    for command, code, said in ACTS:
        here, far = twins.here(*words(command)), twins.far(*words(command))
        assert here.code == code, (command, here)
        assert any(one in here.out + here.err for one in said.split("|")), (command, here)
        assert plain(far) == plain(here), command


def plain(ran: Ran) -> tuple[int, str, str]:
    return ran.code, ran.out, ran.err


@pytest.mark.parametrize("command", ["issue", "return"])
def test_each_says_what_it_takes(twins: Twins, command: str) -> None:
    assert "TAG" in twins.wattwright(command, "--help").out
