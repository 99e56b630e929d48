"""The season line of every model, from the database: `python -m tests.bench.bench_season`.

An invented house of 500 models over three years, on both databases: shows of 10 to 16 weeks begin evenly
through it; each holds 20 models by number and of 20 others 1 to 4 units by tag, which its kept plan uses.
Timed is reading the season and working out the line of every model, step by step, with every shortage and
when it clears, with the collector of garbage set as the service sets it. Then the same for 25 to 400 shows:
it may grow no faster than they do.
"""

import random
import statistics
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import psycopg
from sqlalchemy import func, insert, select

from service.cli.serve import seldom_collected
from service.planning.records import Allotment, Placing, Plan, PlanStatus
from service.planning.season.reading import read_season
from service.season.lines import shortages
from service.season.records import Hold, Production, ProductionStatus
from service.shows.records import Run
from service.stock.gear import DecoderModel, GearKind, GearModel, Unit, UnitState
from service.store import schema
from service.store.base import TagEntry
from service.store.work import Store
from tests import builders as build
from tests.postgres import postgres

BEGINS = date(2026, 11, 25)
MODELS, UNITS_OF_ONE, YEARS = 500, 10, 3
BY_MODEL, BY_TAG, UNITS_OF_MODEL, IN_PLAN = 20, 20, 4, 24
SHOWS, CURVE, ROUNDS = 200, (25, 50, 100, 200, 400), 7
TARGET_S = 0.2


@contextmanager
def houses() -> Iterator[dict[str, str]]:
    """An address on each database to make houses at."""
    with tempfile.TemporaryDirectory() as folder, postgres() as server:
        yield {"sqlite": f"sqlite:///{Path(folder)}", "postgresql": f"postgresql://{server}"}


def an_empty_house(address: str, number: int) -> Store:
    if address.startswith("sqlite"):
        store = Store(f"{address}/house{number}.db")
    else:
        with psycopg.connect(f"{address}/template1", autocommit=True) as admin:
            admin.execute(f"CREATE DATABASE house{number}".encode())
        store = Store(f"{address}/house{number}")
    schema.upgrade(store.engine)
    return store


def fill(store: Store, shows: int) -> None:
    """Everything in bulk: nothing is timed here."""
    chance = random.Random(shows)
    with store.writing("bench") as session:
        venues = [build.a_venue(session, name=f"Stage {n}").id for n in range(1, 5)]
        tags = [f"M{n:03}" for n in range(MODELS)]
        units = [f"{tag}-{n:02}" for tag in tags for n in range(UNITS_OF_ONE)]
        codes = [f"S{n:03}" for n in range(shows)]
        kinds = {"unit": units, "production": codes}
        rows: list[dict[str, Any]] = [
            {"key": tag, "tag": tag, "kind": kind} for kind, of_it in kinds.items() for tag in of_it
        ]
        session.execute(insert(TagEntry), rows)
        for tag in tags:
            session.add(DecoderModel(tag=tag, channels=4, min_v=12.0, max_v=24.0, polarity="common positive"))
        session.flush()
        models = list(session.scalars(select(GearModel.id).order_by(GearModel.tag)))
        rows = [
            {"tag": tag, "tag_key": tag, "kind": GearKind.DECODER, "model_id": models[n // UNITS_OF_ONE],
             "state": UnitState.FAULTY if n % 20 == 0 else UnitState.GOOD}
            for n, tag in enumerate(units)
        ]  # fmt: skip
        session.execute(insert(Unit), rows)
        unit_ids = list(session.scalars(select(Unit.id).order_by(Unit.tag)))
        element = build.an_element(session, runs=tuple((10,) for _ in range(IN_PLAN)))
        runs = list(session.scalars(select(Run.id).where(Run.element_id == element.id)))
        _shows(session, codes, venues, chance)
        shows_of = session.execute(
            select(Production.id, Production.build_start, Production.return_by).where(
                Production.tag.in_(codes)
            )
        ).all()
        _claims(session, [tuple(row) for row in shows_of], (models, unit_ids, runs), chance)


def _shows(session: Any, codes: list[str], venues: list[int], chance: random.Random) -> None:
    rows = []
    for n, code in enumerate(codes):
        first = BEGINS + timedelta(days=n * YEARS * 365 // len(codes))
        weeks = [first + timedelta(weeks=w) for w in (0, 3, chance.randint(9, 14))]
        rows.append(
            {"tag": code, "tag_key": code, "title": code, "venue_id": venues[n % 4], "build_start": weeks[0],
             "load_in": weeks[1], "closing": weeks[2], "strike_end": weeks[2] + timedelta(days=2),
             "return_by": weeks[2] + timedelta(days=9), "status": ProductionStatus.CONFIRMED}
        )  # fmt: skip
    session.execute(insert(Production), rows)


def _claims(
    session: Any,
    shows: list[tuple[Any, ...]],
    stock: tuple[list[int], list[int], list[int]],
    chance: random.Random,
) -> None:
    models, units, runs = stock
    holds: list[dict[str, Any]] = []
    for show, first, last in shows:
        days = {"from_on": first, "until_on": last + timedelta(days=1)}
        nothing = {"model_id": None, "unit_id": None, "quantity": None, "production_id": show}
        asked = chance.sample(range(len(models)), BY_MODEL + BY_TAG)
        for n in asked[:BY_MODEL]:
            holds.append(nothing | days | {"model_id": models[n], "quantity": chance.randint(1, 6)})
        mine = [
            unit
            for n in asked[BY_MODEL:]
            for unit in chance.sample(
                units[n * UNITS_OF_ONE : (n + 1) * UNITS_OF_ONE], chance.randint(1, UNITS_OF_MODEL)
            )
        ]
        holds += [nothing | days | {"unit_id": unit, "quantity": 1} for unit in mine]
        plan = Plan(production_id=show, number=1, status=PlanStatus.KEPT, **days)
        session.add(plan)
        session.flush()
        session.execute(
            insert(Allotment),
            [
                {"plan_id": plan.id, "run_id": run, "supply_id": mine[n % len(mine)], "output": 1,
                 "decoder_id": mine[-n % len(mine)], "first_channel": 1, "channels": 4, "is_locked": False}
                for n, run in enumerate(runs)
            ],
        )  # fmt: skip
        session.execute(
            insert(Placing), [{"plan_id": plan.id, "unit_id": unit} for unit in sorted(set(mine))]
        )
    session.execute(insert(Hold), holds)


def asked(store: Store) -> tuple[int, int]:
    """The line of every model: how many steps, and how many shortages."""
    with store.reading() as session:
        season = read_season(session, BEGINS, with_tape=False, with_names=False)
    lines = [item.line(BEGINS) for item in season.items.values()]
    return sum(len(line) for line in lines), sum(len(shortages(line)) for line in lines)


def measured(store: Store) -> tuple[float, float, tuple[int, int]]:
    """(seconds, seconds of this process alone, what was said), the middle of the rounds."""
    said = asked(store)
    took, own = [], []
    for _ in range(ROUNDS):
        began, busy = time.perf_counter(), time.process_time()
        asked(store)
        took.append(time.perf_counter() - began)
        own.append(time.process_time() - busy)
    return statistics.median(took), statistics.median(own), said


def main() -> int:
    is_well = True
    with seldom_collected(), houses() as addresses:
        for engine, address in addresses.items():
            curve: list[tuple[int, float]] = []
            for number, shows in enumerate(CURVE):
                store = an_empty_house(address, number)
                fill(store, shows)
                took_s, cpu_s, (steps, short) = measured(store)
                with store.lookup() as connection:
                    holds = connection.execute(select(func.count()).select_from(Hold)).scalar()
                store.close()
                curve.append((shows, took_s))
                print(
                    f"{engine:10} {shows:4} shows, {holds:6} holds: {1000 * took_s:6.1f} ms "
                    f"({1000 * cpu_s:.1f} ms of it here) for {MODELS} models, {steps} steps, "
                    f"{short} shortages",
                    flush=True,
                )
            whole = dict(curve)[SHOWS]
            # One step of the curve is at the mercy of what else the machine does; the slope of all is not.
            steps_up = [after / before for (_, before), (_, after) in pairwise(curve)]
            sizes, durations = np.log(np.array(curve).T)
            power = float(np.polyfit(sizes, durations, 1)[0])
            is_well &= whole < TARGET_S and power <= 1
            times = ", ".join(f"{step:.2f}" for step in steps_up)
            print(f"{engine:10} doubling the shows takes {times} times as long, in all shows^{power:.2f}")
    print(f"at most {1000 * TARGET_S:.0f} ms for {SHOWS} shows, growing no faster than they do: {is_well}")
    return 0 if is_well else 1


if __name__ == "__main__":
    sys.exit(main())
