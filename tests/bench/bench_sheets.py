"""How long sheets take to come in: `python -m tests.bench.bench_sheets`. Not part of the test run."""

import tempfile
import time
import tracemalloc
from datetime import date
from pathlib import Path

from service.paper.bring_in import bring_in
from service.store import schema
from service.store.work import Store
from tests.paper.house import read
from tests.postgres import postgres

TAPES = "Tape,Volts,Emitters (W/m),Pitch (mm)\nRGBW24,24,R=4.8; G=4.8; B=4.8; W=4.8,100\nWW24,24,W=14.4,50\n"
VENUES = "Venue,Mains (V)\nSlipway,120\n"
PRODUCTIONS = "Code,Load-in,Closing\n" + "".join(f"S{n},2026-11-09,2027-01-10\n" for n in range(10))
MODELS = "Model,Volts,Rated,Output\nS320,24,320,13.3\n"
DECODER_MODELS = "Model,Channels,Channel (A),Total (A),Lowest (V),Highest (V)\nD4,4,5,15,12,24\n"


def house(elements: int) -> dict[str, str]:
    """A house of that many elements, three pieces each, every one fed and cut from a reel."""
    rows, feeds, cuts = [], [], []
    for n in range(elements):
        rows.append(f"E-{n:05d},S{n % 10},Thing {n},Unit {n % 200},RGBW24,3 x 1200,5,18,no")
        feeds.append(f"E-{n:05d},PS-{n // 4:05d},1,DC-{n:05d},1-4")
        cuts.append(f"K-{n:05d},R-{n // 4:05d},1200,E-{n:05d},1")
    units = elements // 4 + 1
    head = "Element,Production,Name,Scenic unit,Tape,Pieces (mm),Lead (m),Lead AWG,Chained"
    return {
        "venues": VENUES,
        "tapes": TAPES,
        "supply models": MODELS,
        "decoder models": DECODER_MODELS,
        "productions": PRODUCTIONS,
        "supplies": "Tag,Model\n" + "".join(f"PS-{n:05d},S320\n" for n in range(units)),
        "decoders": "Tag,Model\n" + "".join(f"DC-{n:05d},D4\n" for n in range(elements)),
        "reels": "Reel,Tape,Received (m)\n" + "".join(f"R-{n:05d},RGBW24,5\n" for n in range(units)),
        "elements": "\n".join([head, *rows]),
        "feeds": "\n".join(["Element,Supply,Output,Decoder,Channels", *feeds]),
        "cuts": "\n".join(["Cut,Reel,Length (mm),Element,Piece", *cuts]),
    }


def measure(store: Store, elements: int, label: str) -> None:
    sheets = house(elements)
    start, cpu = time.perf_counter(), time.process_time()
    reading = read(sheets)
    read_s = time.perf_counter() - start
    with store.writing("bench") as session:
        brought = bring_in(session, reading.sheets, "bench", date(2026, 11, 25))
    total_s = time.perf_counter() - start
    cpu_s = time.process_time() - cpu
    rows = sum(brought.counts.values())
    print(
        f"{label:12} {elements:6} elements  {rows:7} rows  read {read_s:5.2f} s  in all {total_s:6.2f} s"
        f"  processor {cpu_s:6.2f} s"
    )


def main() -> None:
    for elements in (500, 5000):
        with tempfile.TemporaryDirectory() as folder:
            store = Store(f"sqlite:///{Path(folder) / 'bench.db'}")
            schema.upgrade(store.engine)
            measure(store, elements, "SQLite")
            store.close()
    with postgres() as address:
        store = Store(f"postgresql://{address}/postgres")
        schema.upgrade(store.engine)
        measure(store, 5000, "PostgreSQL")
        store.close()
    with tempfile.TemporaryDirectory() as folder:
        store = Store(f"sqlite:///{Path(folder) / 'bench.db'}")
        schema.upgrade(store.engine)
        tracemalloc.start()
        measure(store, 5000, "traced")
        print(f"peak {tracemalloc.get_traced_memory()[1] / 1e6:.0f} MB")
        store.close()


if __name__ == "__main__":
    main()
