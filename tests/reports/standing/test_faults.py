"""Findings told to people: one move for what it mends, worst first."""

from service.limits.findings import Finding, Harm, Mend, Verdict
from service.limits.mends.acts import Shift
from service.reports.standing.faults import gathered, told

MOVE = Shift(("SQ-17/1",), "PS-03", 1)
NAMES = {"SQ-17": "Mirror frame"}


def a_finding(subject: str, message: str, mend: Mend | None, **more: object) -> Finding:
    plain: dict[str, object] = {
        "code": "supply-watts", "harm": Harm.DARK, "verdict": Verdict.OVER, "subject_kind": "supply",
        "source": "common practice", "unit": "W", "value": 311.04, "limit": 256.0,
    }  # fmt: skip
    return Finding(subject=subject, message=message, mend=mend, tag=subject, **plain | more)  # type: ignore[arg-type]


WATTS = a_finding(
    "PS-01", "PS-01 carries 311.04 W; its limit is 256.00 W (a; b), 121.5 %",
    Mend("move SQ-17 with DC-21 to PS-03: PS-03 247.68 W of 256.00 W; or to PS-06 (238.56 W)", acts=(MOVE,)),
)  # fmt: skip
AMPS = a_finding(
    "PS-01 output 1", "PS-01 output 1 carries 12.96 A; its limit is 10.64 A",
    Mend("move SQ-17 with DC-21 to PS-03: PS-03 247.68 W of 256.00 W", acts=(MOVE,)),
    code="output-amps", unit="A", value=12.96, limit=10.64,
)  # fmt: skip


def test_a_load_says_by_how_much_and_the_move_names_the_element() -> None:
    fault = told(WATTS, NAMES)

    assert fault.excess is not None
    assert round(fault.excess, 2) == 55.04
    assert fault.rest == "PS-01 carries 311.04 W; its limit is 256.00 W (a; b), 121.5 %"
    assert fault.act == "move Mirror frame with DC-21 to PS-03"
    assert fault.effect == "PS-03 247.68 W of 256.00 W"
    assert fault.instead == "or to PS-06 (238.56 W)"


def test_what_one_move_mends_is_told_once_under_the_watts() -> None:
    [fault] = gathered([told(AMPS, NAMES), told(WATTS, NAMES)])

    assert fault.subject == "PS-01"
    assert [one.subject for one in fault.also] == ["PS-01 output 1"]


def test_what_is_mended_alike_is_told_once_and_what_has_no_way_out_by_itself() -> None:
    foam = [
        told(a_finding(t, f"{t} is on foam; it burns", Mend("stand it off"), code="mounting", unit="W/m"), {})
        for t in ("A", "B")
    ]
    bare = [told(a_finding(t, f"{t} is wrong", None, code="other", unit=""), {}) for t in ("A", "B")]

    assert [(f.subject, len(f.also)) for f in gathered([*foam, *bare])] == [("A", 1), ("A", 0), ("B", 0)]


def test_a_message_about_something_else_is_no_load() -> None:
    fault = told(a_finding("DC-14", "DC-14 takes slots 509-516; the last is 512", None, unit="slot"), {})

    assert (fault.head, fault.rest, fault.excess) == ("DC-14 takes slots 509-516", "The last is 512", None)
