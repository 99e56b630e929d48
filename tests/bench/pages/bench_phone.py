"""What a technician's page costs a phone on a poor network: `python -m tests.bench.pages.bench_phone`.

A real browser, slowed down by its own means: 400 ms to and fro, 50 kB/s, a processor a quarter as fast. Told
are the bytes on the wire of the find page without its font, the first paint, and how long after a tap on a
result the answer is there: when all is kept, and while the phone still fetches what it keeps.
"""

import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, sync_playwright

from service.cli.serve import seldom_collected
from service.store import schema
from service.store.work import Store
from tests.acceptance.conftest import bring_season
from tests.api.conftest import serving

LATENCY_MS, BYTES_PER_S, SLOWER, ROUNDS = 400, 50_000, 4, 7
WIRE_KB, PAINT_MS, ANSWER_MS = 12.0, 1300.0, 1000.0
PAINTED = "performance.getEntriesByName('first-contentful-paint')[0]?.startTime"


def slowed(browser: Browser, wire: list[float]) -> Page:
    """A new phone that has seen nothing yet, its bytes counted."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True)
    page = context.new_page()
    line = context.new_cdp_session(page)
    fonts: set[str] = set()

    def answered(event: dict[str, Any]) -> None:
        if event["type"] == "Font":
            fonts.add(event["requestId"])

    def finished(event: dict[str, Any]) -> None:
        if event["requestId"] not in fonts:
            wire.append(event["encodedDataLength"])

    line.send("Network.enable")
    line.on("Network.responseReceived", answered)
    line.on("Network.loadingFinished", finished)
    line.send(
        "Network.emulateNetworkConditions",
        {
            "offline": False,
            "latency": LATENCY_MS,
            "downloadThroughput": BYTES_PER_S,
            "uploadThroughput": BYTES_PER_S,
        },
    )
    line.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    return page


def measured(browser: Browser, site: str, keeps: bool) -> tuple[float, float, float]:
    """kB of the find page, milliseconds to its first paint, milliseconds from the tap to the answer."""
    wire: list[float] = []
    page = slowed(browser, wire)
    page.goto(f"{site}/find?q=attic", wait_until="load")
    page.wait_for_function(PAINTED)
    size, paint = sum(wire) / 1000, float(page.evaluate(PAINTED))
    if not keeps:
        page.wait_for_function("caches.match('/elements/SQ-24').then(kept => Boolean(kept))", timeout=120_000)
    tapped = time.perf_counter()
    page.locator("#hits a").first.tap()
    page.locator(".ways").first.wait_for()
    took = 1000 * (time.perf_counter() - tapped)
    page.context.close()
    return size, paint, took


def main() -> int:
    chromium = shutil.which("chromium-headless-shell")
    if chromium is None:
        sys.exit("no browser: apt-get install chromium-headless-shell")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        url = f"sqlite:///{Path(folder) / 'season.db'}"
        store = Store(url)
        schema.upgrade(store.engine)
        bring_season(store)
        store.close()
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        with seldom_collected(), serving(url) as site:
            early = [measured(browser, site, keeps=True) for _ in range(ROUNDS)]
            late = [measured(browser, site, keeps=False) for _ in range(ROUNDS)]
        browser.close()
    size = max(s for s, _, _ in early + late)
    paint = statistics.median(p for _, p, _ in early + late)
    soon, settled = (statistics.median(t for _, _, t in part) for part in (early, late))
    print(f"find page on the wire, without its font  {size:8.1f} kB  (asked {WIRE_KB:.0f})")
    print(f"first paint, median                      {paint:8.0f} ms  (asked {PAINT_MS:.0f})")
    print(f"tap to answer, while it keeps, median    {soon:8.0f} ms  (asked {ANSWER_MS:.0f})")
    print(f"tap to answer, all kept, median          {settled:8.0f} ms  (asked {ANSWER_MS:.0f})")
    return 0 if size <= WIRE_KB and paint <= PAINT_MS and max(soon, settled) <= ANSWER_MS else 1


if __name__ == "__main__":
    sys.exit(main())
