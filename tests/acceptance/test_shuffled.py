"""A season that nobody has seen before: what is over, and by how much, equals a sum from the sheets alone.

The sheets of the demonstration season are put in disorder by a seed and brought in as anybody's own; the
limits must find exactly what plain arithmetic on the same sheets finds, with the same figures.
"""

from dataclasses import dataclass
from pathlib import Path

import pytest

import seed_demo
from service.limits.findings import Finding, Verdict
from service.limits.registry import findings
from service.paper.bring_in import NAMES, bring_in
from service.paper.reading import read_path
from service.planning.snapshot.house import read_policy
from service.planning.snapshot.season import season_facts
from service.store.work import Store
from tests.acceptance.disorder import disordered
from tests.acceptance.plain import CODES, Figures, Key, faults
from tests.acceptance.worked import read_sheets, worked_elements, write_sheets

SEEDS = (1, 2, 3, 4, 5)


@dataclass
class Both:
    """What the product finds and what the sheets say, by production, limit and subject."""

    found: dict[Key, Finding]
    plain: dict[Key, Figures]
    load_w: dict[str, float]
    plain_w: dict[str, float]


@pytest.fixture(params=SEEDS, ids=lambda seed: f"seed {seed}")
def both(request: pytest.FixtureRequest, store: Store, tmp_path: Path) -> Both:
    sheets, today = disordered(read_sheets(seed_demo.folder()), request.param, seed_demo.AS_OF)
    write_sheets(sheets, tmp_path)
    given = read_path(tmp_path, NAMES)
    store.write(lambda session: bring_in(session, given.sheets, "tests", today), "tests")
    with store.reading() as session:
        policy = read_policy(session)
        shows = season_facts(session, today)
        found = {
            (show.production, f.code, f.subject): f
            for show in shows
            for f in findings(show, policy)
            if f.verdict is Verdict.OVER and f.code in CODES
        }
        load_w = {e.tag: e.load_w or 0.0 for show in shows for e in show.elements}
    plain_w = {tag: float(element.watts) for tag, element in worked_elements(sheets).items()}
    return Both(found, faults(sheets, today), load_w, plain_w)


def test_the_same_faults_are_found_with_the_same_figures(both: Both) -> None:
    assert set(both.found) == set(both.plain)
    for key, figures in both.plain.items():
        finding = both.found[key]
        if figures is None:
            assert (finding.value, finding.limit) == (None, None), key
        else:
            assert (finding.value, finding.limit) == pytest.approx([float(x) for x in figures], rel=1e-9), key
        assert set(finding.elements) <= set(both.plain_w)
    assert both.load_w == pytest.approx(both.plain_w, rel=1e-9)


def test_the_disorder_brings_faults_of_every_kind() -> None:
    """Else the comparison would prove little."""
    codes: set[str] = set()
    for seed in SEEDS:
        sheets, today = disordered(read_sheets(seed_demo.folder()), seed, seed_demo.AS_OF)
        of_this = {code for _, code, _ in faults(sheets, today)}
        assert len(of_this) >= 13, seed
        codes |= of_this

    assert codes == CODES


def test_the_plain_sum_finds_the_faults_of_the_season_as_it_is() -> None:
    """The second sum itself is held to the list that was worked by hand."""
    plain = faults(read_sheets(seed_demo.folder()), seed_demo.AS_OF)

    assert {(code, subject) for _, code, subject in plain} == {
        ("run-length", "SQ-21/1"), ("total-drop", "SQ-21/1"), ("lead-amps", "SQ-05/1"),
        ("supply-watts", "PS-01"), ("output-amps", "PS-01 output 1"), ("output-amps", "PS-12 output 2"),
        ("channel-amps", "DC-14 channel 1"), ("emitters-wired", "FR-13"), ("voltage-class", "FR-09/1"),
        ("voltage-class", "FR-10/1"), ("match-lot", "attic"), ("moving", "SQ-15"),
        ("dimmed-circuit", "PS-26"), ("universe", "DC-52 port 2"), ("universe", "DC-14"),
        ("address-overlap", "DC-23"), ("unit-state", "PS-52"), ("unit-state", "DC-07"), ("no-feed", "SQ-19"),
    }  # fmt: skip
