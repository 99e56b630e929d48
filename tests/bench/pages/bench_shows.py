"""What the page of a show of 1,000 elements costs the service: `python -m tests.bench.pages.bench_shows`.

In SQLite. Cold: its facts are read and every limit is asked of it, as after each change on record. Warm: the
same page again. Timed is the whole answer inside the process, packed, through the ASGI application itself;
processor time stands beside it, because a busy machine says little with the first.
"""

import asyncio
import statistics
import sys
import tempfile
import time
from datetime import date
from pathlib import Path

import httpx

from service.app import create_app
from service.config import Settings
from service.stock.records import PlaceKind
from service.store import schema
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import a_stage

TODAY = date(2026, 11, 25)
DECODERS, EACH, WALLS, ROUNDS = 250, 4, 25, 15
TARGET_MS = 150.0


def fill(store: Store) -> None:
    """1,000 elements on 25 walls, four to a decoder, two decoders to a supply, all of them fed."""
    with store.writing("bench") as session:
        stage = a_stage(session, supplies=DECODERS // 2 + 5, decoders=DECODERS + 10)
        plan = build.a_plan(session, stage.show)
        walls = []
        for n in range(WALLS):
            place = build.a_place(
                session, tag=f"W-{n}", name=f"Wall {n}", kind=PlaceKind.SCENIC_UNIT,
                venue_id=stage.venue.id, parent_id=stage.deck.id,
            )  # fmt: skip
            walls.append(build.a_scenic_unit(session, stage.show, name=f"Wall {n}", place_id=place.id))
        for n in range(DECODERS):
            decoder, supply = stage.decoders[n], stage.supplies[n // 2]
            build.a_placing(session, plan, decoder, place_id=stage.deck.id)
            if n % 2 == 0:
                build.a_placing(session, plan, supply, place_id=stage.deck.id, outlet_id=stage.outlet.id)
            build.a_patch(session, plan, decoder, universe=1 + n // 120, start=1 + 4 * (n % 120))
            for k in range(EACH):
                wall = walls[(EACH * n + k) % WALLS]
                element = stage.element(
                    session, f"E-{EACH * n + k:04d}", runs=((30,),), scenic_unit_id=wall.id
                )
                build.an_allotment(session, plan, element.runs[0], supply, decoder=decoder)


async def ask(client: httpx.AsyncClient) -> tuple[float, float, int]:
    """Milliseconds by the clock, milliseconds of processor, bytes on the wire."""
    began, worked = time.perf_counter(), time.process_time()
    async with client.stream("GET", "/productions/WIN", headers={"accept-encoding": "gzip"}) as answer:
        size = sum([len(part) async for part in answer.aiter_raw()])
    assert answer.status_code == 200, answer.status_code
    return 1000 * (time.perf_counter() - began), 1000 * (time.process_time() - worked), size


async def measured(url: str) -> list[tuple[float, float, int]]:
    app = create_app(Settings(database_url=url, today=TODAY))
    transport = httpx.ASGITransport(app)
    async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as client:
        return [await ask(client) for _ in range(1 + ROUNDS)]


def main() -> int:
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'show.db'}"
        store = Store(url)
        schema.upgrade(store.engine)
        fill(store)
        store.close()
        cold, *warm = asyncio.run(measured(url))
    clock_ms = statistics.median(ms for ms, _, _ in warm)
    work_ms = statistics.median(ms for _, ms, _ in warm)
    print(f"cold   {cold[0]:8.1f} ms, {cold[1]:8.1f} ms of processor (first page of the process too)")
    print(f"warm   {clock_ms:8.1f} ms, {work_ms:8.1f} ms of processor, {warm[0][2] / 1000:.1f} kB packed")
    print(f"target {TARGET_MS:8.1f} ms")
    return 0 if clock_ms <= TARGET_MS else 1


if __name__ == "__main__":
    sys.exit(main())
