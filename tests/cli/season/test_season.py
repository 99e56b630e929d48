"""`wattwright season` and `wattwright buy`: the same beside the database and through a service."""

import shlex

import pytest

from tests.cli.conftest import Twins

ASKED = [
    ("season line D4 --from 2027-01-01 --to 2027-03-01", 0, "2027-01-04  2027-01-19"),
    ("season line d4 --json", 0, '"clears_on": "2027-01-20"'),
    ("season line WW24 --lot W-26B --csv", 0, "lot,WW24,W-26B,m,"),
    ("season line DW4 --from 2027-01-20", 0, "TW 5, TL 1"),
    ("season line none", 1, "no model, tape or reel has the tag 'none'"),
    ("season line D4 --lot L1", 1, "D4 has no lot 'L1'"),
    ("season line D4 --from 2027-02-01 --to 2027-01-01", 2, "2027-01-01 comes before 2027-02-01"),
    ("season line D4 --from soon", 2, "--from takes a day"),
    ("season line D4 --json --csv", 2, "not both"),
    ("season short", 0, "TL wants its gear from 2027-01-20, 16 days later (load-in 2027-01-25)"),
    ("season short --production tl --json", 0, '"move_needed_from": "2027-01-20"'),
    ("season short --production ZZ", 1, "no production has the code 'ZZ'"),
    ("season short --to 2026-11-30", 0, "take DC-03 back from CO"),
    ("season short --to 2026-11-30 --csv", 0, "decoder,D4,,piece,1.0,2026-11-25,2026-11-25,2026-12-01"),
    ("season clashes", 0, "DC-01, DC-02, DC-09, DC-10, DC-11, DC-12, DC-32, DC-43, PS-06"),
    ("season clashes --production FR", 0, "Nothing clashes."),
    ("season have --production TW", 0, "DW4"),
    ("season have --json --from 2027-03-01", 0, '"production": "TL"'),
    ("season what-if --move TL --needed-from 2027-01-20 --back DC-03", 0, "0 units would be named twice"),
    ("season what-if --move TL --later-by -7 --json", 0, '"supposed": true'),
    ("season what-if --wants TW DW4 3", 0, "TW wants 3 DW4, not 5"),
    ("season what-if --move TL --needed-from 2027-02-01", 2, "TL loads in on 2027-01-25"),
    ("season what-if", 2, "suppose at least one thing"),
    ("buy", 0, "by 2026-12-04 if no show is to borrow from a later one"),
    ("buy --csv", 0, "buy,RGBW24,tape,7,reel,,1,2026-12-11,2026-12-04,0,"),
    ("buy --json", 0, '"act": "too late"'),
    ("report stock-use --from 2026-12-01 --to 2027-03-01", 0, "2027-01-20"),
    ("report season-line --production TL --json", 0, '"item": "DW4"'),
    ("report shortages", 0, "R-111"),
    ("report commitments --production TW --csv", 0, "TW,Net Loft,decoder,DW4"),
    ("report order-list --json", 0, '"cost_not_known_of": 6'),
    ("report loads --from 2027-01-01", 2, "loads is a report of one day"),
]  # fmt: skip


def test_the_season_is_asked_alike_beside_the_database_and_through_a_service(twins: Twins) -> None:
    for command, code, said in ASKED:
        here, far = twins.here(*shlex.split(command)), twins.far(*shlex.split(command))
        assert (here.code, said in here.out + here.err) == (code, True), (command, here)
        if "report loads" not in command:
            assert (far.code, far.out, far.err) == (here.code, here.out, here.err), command
        assert far.code != 0 or far.out, command


def test_a_report_of_one_day_takes_no_span_over_there_either(twins: Twins) -> None:
    ran = twins.far("report", "loads", "--from", "2027-01-01")

    assert ran.code == 2
    assert "from is not a parameter of this address" in ran.err


@pytest.mark.parametrize("day", ["2026-12-01", "2027-01-10"])
def test_the_season_is_asked_as_of_another_day(twins: Twins, day: str) -> None:
    here, far = (ask("season", "short", "--as-of", day, "--json") for ask in (twins.here, twins.far))

    assert (far.code, far.out) == (0, here.out)
    assert f'"from_on": "{day}"' in here.out or day == "2026-12-01"
