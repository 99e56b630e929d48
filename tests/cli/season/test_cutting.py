"""`wattwright cut`: the same beside the database and through a service."""

import re
import shlex

from tests.cli.conftest import Ran, Twins

# In this order; each with its exit code and what its output must say.
ACTS = [
    ("cut list", 0, "make a plan: wattwright cut plan CODE --keep"),
    ("cut plan TW XX", 1, "there is no production XX"),
    ("cut plan TW --tape XX", 1, "there is no tape XX"),
    ("cut plan TW TL --no-buying --tape TW24", 1, "no lot yields all of its match group"),
    ("cut plan TW TL", 0, "R-111 is promised to TL 3200 mm and TW 800 mm and has 3600 mm left: 400 mm short"),
    ("cut done 2 1", 1, "CP-002 is a draft"),
    ("cut keep 2", 0, "CP-002 is kept"),
    ("cut keep CP-002", 1, "only a draft can be kept"),
    ("cut done cp-002 1 --note clean", 0, "TW-08/1 · 1100 mm · NW24 · lot N-26C: K-106 off R-120"),
    ("cut done CP-002 1", 1, "step 1 of CP-002 is done already"),
    ("cut undo CP-002 1", 0, "to be cut again"),
    ("cut undo CP-002 1 --json", 1, "step-refused"),
    ("cut done CP-002 99", 1, "CP-002 has no step 99"),
    ("cut done CP-002 0", 2, "0 is not in the range"),
    ("cut done CP-002 31", 1, "step 31 is cut off new 1, which is still to come"),
    ("cut short CP-002 R-131 1234mm", 1, "1234 mm is not a whole number of 50 mm cut pitches of TW24"),
    ("cut short CP-002 R-123 4400 --json", 0, '"supersedes": "CP-002"'),
    ("cut list 3", 0, "TW-08/2 · 1100 mm · NW24 · lot N-26C"),
    ("cut list --production TW", 0, "Cut with the power off"),
    ("cut list CP-002 --production TW", 2, "Give a plan or --production, not both"),
    ("cut list --production TL --json", 0, '"label": "TL-22/1 · 4000 mm · PX12 · lot P-26A"'),
    ("cut abandon 2", 0, "CP-002 is abandoned"),
    ("cut plan TW --tape UV24 --keep --json", 0, '"status": "kept"'),
    ("report cut-list --production TW", 0, "pieces in no kept plan"),
]  # fmt: skip


def test_cuts_are_planned_and_marked_alike_beside_the_database_and_through_a_service(twins: Twins) -> None:
    for command, code, said in ACTS:
        here, far = twins.here(*shlex.split(command)), twins.far(*shlex.split(command))
        assert here.code == code, (command, here)
        assert said in here.out + here.err, (command, here)
        assert plain(far) == plain(here), command


def plain(ran: Ran) -> tuple[int, str, str]:
    """Without the seconds and instants that no two runs share."""
    out = re.sub(r'"(seconds|kept_at)": [^,\n]+', r'"\1": -', ran.out)
    return ran.code, out, ran.err
