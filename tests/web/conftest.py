"""A running service over the season, and a real browser that looks at it."""

import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import axe_playwright_python  # type: ignore[import-untyped]
import pytest
from playwright.sync_api import Browser, BrowserContext, Page

from service.store.work import Store
from tests.acceptance.conftest import bring_season
from tests.api.conftest import serving

AXE = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
# WCAG 2.2, levels A and AA, and what the checker's makers call best practice.
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
LOOKS = ("day", "night", "red")
WIDTHS = {"phone": (390, 844), "narrow": (320, 640), "tablet": (820, 1180), "desk": (1440, 900)}


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, object]) -> dict[str, object]:
    """Debian's browser: the test package's own is not to be had everywhere."""
    found = shutil.which("chromium-headless-shell")
    assert found, "no browser: apt-get install chromium-headless-shell"
    return {**browser_type_launch_args, "executable_path": found, "args": ["--no-sandbox", "--disable-gpu"]}


@pytest.fixture(scope="session")
def base_url() -> None:
    """Addresses are whole in these tests; the plugin's own fixture is of a kind that is deprecated."""


@pytest.fixture(scope="session")
def season_file(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration season in one file, to be copied."""
    path = tmp_path_factory.mktemp("pages") / "season.db"
    shutil.copy(sqlite_template, path)
    store = Store(f"sqlite:///{path}")
    bring_season(store)
    with store.engine.execution_options(begin="none").connect() as connection:
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    store.close()
    return path


@pytest.fixture(scope="session")
def site(season_file: Path) -> Iterator[str]:
    """Where the season is served, for tests that only read it."""
    with serving(f"sqlite:///{season_file}") as address:
        yield address


@pytest.fixture
def own_site(season_file: Path, tmp_path: Path) -> Iterator[str]:
    """The same, in a database of this test's own."""
    path = tmp_path / "season.db"
    shutil.copy(season_file, path)
    with serving(f"sqlite:///{path}") as address:
        yield address


@pytest.fixture
def empty_site(sqlite_template: Path, tmp_path: Path) -> Iterator[str]:
    """A house that nothing is on record of."""
    path = tmp_path / "house.db"
    shutil.copy(sqlite_template, path)
    with serving(f"sqlite:///{path}") as address:
        yield address


@pytest.fixture
def quiet_page(context: BrowserContext) -> Iterator[Page]:
    """A page whose console must stay silent: an error there, or a refusal by the page's own policy, fails the
    test."""
    said: list[str] = []
    page = context.new_page()
    page.on("console", lambda line: said.append(line.text) if line.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    yield page
    assert not said, said


@pytest.fixture
def scriptless(browser: Browser) -> Iterator[Page]:
    """A page in a browser that runs no script."""
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 844})
    yield context.new_page()
    context.close()


@pytest.fixture(params=[True, False], ids=["script", "no-script"])
def at(request: pytest.FixtureRequest) -> Iterator[Page]:
    """A page in a browser with script, and in one without. Its console must stay silent, but for what the
    browser itself says of an answer that refuses."""
    page: Page = request.getfixturevalue("page" if request.param else "scriptless")
    said: list[str] = []
    page.on("console", lambda line: said.append(line.text) if line.type in ("error", "warning") else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    yield page
    assert [line for line in said if "the server responded with a status of 4" not in line] == []


def put_on(page: Page, site: str, look: str, width: str) -> None:
    """Look at pages in this look at this width."""
    page.context.add_cookies([{"name": "look", "value": look, "url": site}])
    wide, high = WIDTHS[width]
    page.set_viewport_size({"width": wide, "height": high})


def until(page: Page, expression: str) -> None:
    """Wait for it to be so. The browser's own way to wait is refused by the policy of the pages."""
    end = time.monotonic() + 30
    while not page.evaluate(expression):
        assert time.monotonic() < end, f"never so: {expression}"
        page.wait_for_timeout(50)


def violations(page: Page) -> list[str]:
    """What the checker of accessible pages finds wrong, one line each."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)  # not by a script element: the page's own policy would refuse that
    found = page.evaluate(
        "rules => axe.run(document, {runOnly: rules, resultTypes: ['violations']}).then(f => f.violations)",
        RULES,
    )
    return [
        f"{v['id']} ({v['impact']}): {node['target']} {node['failureSummary']}"
        for v in found
        for node in v["nodes"]
    ]


def is_sideways(page: Page) -> bool:
    """Whether something on the page reaches beyond its width."""
    return bool(page.evaluate("document.documentElement.scrollWidth > innerWidth"))


def hindrances(page: Page, *widths: str) -> list[str]:
    """What keeps somebody from reading or working the page as it stands, in every look at these widths.

    The page is not loaded again: a look is one attribute of its root.
    """
    found = []
    for width in widths:
        wide, high = WIDTHS[width]
        page.set_viewport_size({"width": wide, "height": high})
        for look in LOOKS:
            page.evaluate("look => { document.documentElement.dataset.look = look }", look)
            found += [f"{width}, {look}: {line}" for line in violations(page)]
            if is_sideways(page):
                found.append(f"{width}, {look}: reaches beyond the width")
    return found
