"""`wattwright stocktake`: the same beside the database and through a service."""

import json
import shlex

from tests.cli.conftest import Ran, Twins

# In this order, on the demonstration season: bin B2 holds PS-11, PS-12 and PS-13, A4 the offcuts of RGBW24.
ACTS = [
    ("begin a4 --json", 0, '"number": "ST-001"'),
    ("begin A4", 1, "ST-001 counts A4 already"),
    ("show A4", 0, "R-106"),
    ("count A4 R-106 --length '3300 mm'", 0, "3300 mm left; the book says 3400 mm"),
    ("count A4 R-107 --length '2250 mm'", 1, "2250 mm is not a whole number of 100 mm cut pitches"),
    ("count A4 R-107 --length soon", 2, "--length"),
    ("count A4 R-107 --not-found --pitches 3", 2, "--not-found says nothing"),
    ("count A4 R-107 r-108", 0, "agrees"),
    ("count ST-001 PS-13 --json", 0, '"outcome": "differs"'),
    ("close A4", 1, "2 differences are not settled in ST-001"),
    ("look-for A4 PS-13", 0, "to look for"),
    ("accept A4", 0, "accepted"),
    ("undo A4 r-106", 0, "differs"),
    ("undo A4 R-106", 1, "R-106 differs: there is nothing to take back"),
    ("accept A4 R-106", 0, "accepted"),
    ("accept A4 R-108", 1, "R-108 agrees with the book"),
    ("show 1 --json", 0, '"tag": "PS-13"'),
    ("close A4 --json", 0, '"status": "closed"'),
    ("show A4", 1, "there is no stocktake A4"),
]


def test_a_place_is_counted_alike_beside_the_database_and_through_a_service(twins: Twins) -> None:
    for command, code, said in ACTS:
        here, far = (run("stocktake", *shlex.split(command)) for run in (twins.here, twins.far))
        assert here.code == code, (command, here)
        assert said in here.out + here.err, (command, here)
        assert timeless(far) == timeless(here), command
    reels = twins.here("show", "reel", "R-106", "--json").document
    assert reels["left_m"] == 3.3


def timeless(ran: Ran) -> tuple[int, object, str]:
    """Without the moment at which a thing was counted."""
    try:
        said: object = json.loads(
            ran.out, object_hook=lambda row: {k: v for k, v in row.items() if k != "counted_at"}
        )
    except ValueError:
        said = ran.out
    return ran.code, said, ran.err
