"""What every limit costs over a season of 5,000 runs: `python -m tests.bench.bench_findings`.

The demonstration season, as often as it takes, in SQLite. Timed are reading it into plain facts and asking
every limit of every show, mends and all; the electrical limits are those of rules 2 to 4, 7 to 10 and 14.
"""

import statistics
import sys
import tempfile
import time
from datetime import date
from itertools import chain, islice
from pathlib import Path

from service.limits.facts import ShowFacts
from service.limits.findings import Finding
from service.limits.lookup import Lookup
from service.limits.policy import DEFAULT
from service.limits.registry import LIMITS, findings
from service.paper.bring_in import bring_in
from service.planning.snapshot.season import season_facts
from service.store import schema
from service.store.work import Store
from tests.bench.bench_feed import season_times
from tests.paper.house import read

TODAY = date(2026, 11, 25)
RUNS, ROUNDS = 5000, 3
FIRST = 100  # below that the code of a copied show, "CO-10", would be an element's tag
TARGET_S = 5.0
ELECTRICAL = frozenset({2, 3, 4, 7, 8, 9, 10, 14})


def fill(store: Store, runs: int) -> int:
    """Seasons until there are so many runs; how many there are then."""
    there, copies = 0, season_times(FIRST + runs)
    for texts in chain(islice(copies, 1), islice(copies, FIRST, None)):
        with store.writing("bench") as session:
            bring_in(session, read(texts).sheets, "bench", TODAY)
        with store.lookup() as connection:
            there = connection.exec_driver_sql("SELECT count(*) FROM runs").scalar() or 0
        if there >= runs:
            break
    return there


def electrical(show: ShowFacts) -> list[Finding]:
    around = Lookup(show, DEFAULT)
    limits = (limit for limit in LIMITS if limit.number in ELECTRICAL)
    return [finding for limit in limits for finding in limit.findings(around)]


def main() -> int:
    with tempfile.TemporaryDirectory() as folder:
        store = Store(f"sqlite:///{Path(folder) / 'season.db'}")
        schema.upgrade(store.engine)
        runs = fill(store, RUNS)
        read_s, electrical_s, all_s = [], [], []
        for _ in range(ROUNDS):
            began = time.perf_counter()
            with store.reading() as session:
                shows = season_facts(session, TODAY)
            read_s.append(time.perf_counter() - began)
            began = time.perf_counter()
            told = sum(len(electrical(show)) for show in shows)
            electrical_s.append(time.perf_counter() - began)
            began = time.perf_counter()
            everything = sum(len(findings(show)) for show in shows)
            all_s.append(time.perf_counter() - began)
        store.close()
    took_s = statistics.median(electrical_s)
    print(f"{runs} runs in {len(shows)} shows: read in {statistics.median(read_s):.2f} s")
    print(f"electrical: {told} findings in {took_s:.2f} s (at most {TARGET_S:g})")
    print(f"all limits: {everything} findings in {statistics.median(all_s):.2f} s")
    return 0 if took_s < TARGET_S else 1


if __name__ == "__main__":
    sys.exit(main())
