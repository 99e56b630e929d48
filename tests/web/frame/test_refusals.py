"""Whatever goes wrong, a browser gets a page that says so in plain words, and a program its problem."""

import shutil
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import httpx
import pytest
from anyio.from_thread import start_blocking_portal
from playwright.sync_api import Page, expect

from service.app import create_app
from service.config import Settings
from service.store.work import Store
from service.web.frame import words
from service.web.frame.faults import _SAID
from tests.api.conftest import away, serving

BROWSER = {"Accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
SMALL = 20_000
FRAMEWORKS = ("should", "Input", "Field required", "pattern", "^[")


@pytest.fixture
def asks(site: str) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=site, headers=BROWSER) as client:
        yield client


@pytest.mark.parametrize("long", [300, 1_100, 5_000, 20_000])
def test_an_address_of_any_length_is_a_page(asks: httpx.Client, long: int) -> None:
    said = asks.get("/" + "w" * long)
    assert said.status_code == 404
    assert "There is no page at" in said.text


def test_a_value_too_long_to_be_put_in_is_shortened() -> None:
    said = words.say("refused-nowhere", {"path": "é" * 5_000})
    assert said == "there is no page at " + "é" * 199 + "…"


@pytest.mark.parametrize(
    ("address", "page"),
    [
        ("/productions/SQ/plans", "/productions/SQ"),
        ("/productions/SQ/plans/1/keep", "/productions/SQ/plans/1"),
        ("/elements/SQ-09/works", "/elements/SQ-09"),
        ("/shelf/out/undo", "/shelf/out"),
        ("/wishes/look", "/wishes"),
        ("/cutting/CP-1/short", "/cutting/CP-1"),
    ],
)
def test_what_only_takes_a_form_leads_to_the_page_of_the_form(
    asks: httpx.Client, address: str, page: str
) -> None:
    said = asks.get(address)
    assert said.status_code == 405
    assert said.headers["allow"] == "POST"
    assert "only takes what a form sends" in said.text
    assert f'href="{page}"' in said.text
    told = httpx.get(str(said.url), headers={"Accept": "*/*"})
    assert told.json()["code"] == "method-not-allowed"


@pytest.mark.parametrize(
    ("address", "page"),
    [
        ("/productions/SQ/plans/99/keep", "/productions/SQ/plans/99"),
        ("/cutting/CP-99/abandon", "/cutting/CP-99"),
        ("/swaps/S-99/undo", "/swaps/S-99"),
    ],
)
def test_a_form_that_is_refused_leads_to_the_page_it_stood_on(
    asks: httpx.Client, address: str, page: str
) -> None:
    said = asks.post(address)
    assert said.status_code >= 400
    assert f'href="{page}"' in said.text


def test_what_takes_no_form_says_so(asks: httpx.Client) -> None:
    said = asks.post("/find", data={"q": "attic"})
    assert said.status_code == 405
    assert "/find is a page to read" in said.text
    assert 'class="btn main" href="/find"' in said.text


def test_programs_keep_their_problems_whatever_they_accept(asks: httpx.Client) -> None:
    for address, code in (("/api/v1/nowhere", "not-found"), ("/api/v1/supplies/PS-01/nowhere", "not-found")):
        assert asks.get(address).json()["code"] == code
    assert asks.put("/api/v1/supplies").json()["code"] == "method-not-allowed"


@pytest.mark.parametrize("how", ["declared", "in pieces"])
def test_a_file_too_large_is_refused_in_words(season_file: Path, how: str) -> None:
    pieces = [b"x" * (SMALL // 2)] * 4
    form = {"Content-Type": "multipart/form-data; boundary=b"}
    begun = b'--b\r\nContent-Disposition: form-data; name="file"; filename="a.csv"\r\n\r\n'
    body = b"".join([begun, *pieces])
    with serving(f"sqlite:///{season_file}", SMALL) as address:
        said = httpx.post(
            f"{address}/bring-in",
            content=body if how == "declared" else iter([begun, *pieces]),
            headers=BROWSER | form,
        )
        told = httpx.post(f"{address}/api/v1/supplies", content=b"x" * 2 * SMALL, headers=BROWSER)
    assert said.status_code == 413
    assert "That is larger than the 0.0191 MB that are taken at once." in said.text
    assert told.json()["code"] == "too-large"


def test_the_usual_largest_is_said_in_whole_megabytes(asks: httpx.Client) -> None:
    said = asks.post("/bring-in", content=b"x" * (20 * 2**20 + 1))
    assert said.status_code == 413
    assert "larger than the 20 MB" in said.text


def test_a_form_that_arrives_broken_is_a_page(asks: httpx.Client) -> None:
    said = asks.post(
        "/add/supplies", content=b"--no", headers={"Content-Type": "multipart/form-data; boundary=b"}
    )
    assert said.status_code == 400
    assert "What the form sent arrived broken." in said.text


def test_what_another_site_sends_is_refused_in_words(asks: httpx.Client) -> None:
    said = asks.post("/wishes/look", data={"look": "day"}, headers={"Sec-Fetch-Site": "cross-site"})
    assert said.status_code == 403
    assert "That was not let in: a web page from elsewhere" in said.text


def test_a_fault_of_ours_is_a_page_with_its_reference(season_file: Path, tmp_path: Path) -> None:
    path = tmp_path / "season.db"
    shutil.copy(season_file, path)
    app = create_app(Settings(database_url=f"sqlite:///{path}", today=date(2026, 11, 25)))

    def falls() -> None:
        raise ZeroDivisionError

    app.add_api_route("/falls", falls)

    async def ask(accept: str) -> httpx.Response:
        inside = httpx.ASGITransport(app, raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=inside, base_url="http://localhost") as client:
            return await client.get("/falls", headers={"Accept": accept})

    with start_blocking_portal() as loop:
        said, told = loop.call(ask, "text/html"), loop.call(ask, "*/*")
    app.state.desk.store.close()
    assert said.status_code == 500
    assert "in the service&#39;s log under" in said.text
    assert "ZeroDivisionError" not in said.text
    assert told.json()["code"] == "fault"


def test_a_database_that_went_away_is_a_page_that_says_so(season_file: Path, tmp_path: Path) -> None:
    path = tmp_path / "season.db"
    shutil.copy(season_file, path)
    store = Store(f"sqlite:///{path}")
    with serving(store.url) as site, away(store):
        said = httpx.get(f"{site}/productions/SQ", headers=BROWSER)
    assert said.status_code == 503
    assert "The database file is damaged; nothing was stored." in said.text
    assert "What to do" in said.text


@pytest.mark.parametrize(
    "address", ["/find", "/elements/SQ-09", "/paper", "/sw.js", "/nowhere", "/elements/XX-9"]
)
def test_head_is_answered_as_get_without_a_body(asks: httpx.Client, address: str) -> None:
    whole, head = asks.get(address), asks.head(address)
    assert head.status_code == whole.status_code
    assert head.content == b""
    assert head.headers["content-type"] == whole.headers["content-type"]
    assert head.headers.get("content-security-policy") == whole.headers.get("content-security-policy")


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("/elements/" + "w" * 81, "The tag: at most 80 characters are taken."),
        ("/paper/changes?revision=x", "The revision: a whole number is needed, such as 3."),
        ("/paper/changes?revision=-1", "The revision: 0 is the least that is taken."),
        ("/shelf/deliveries/1e9", "The number: a whole number is needed, such as 3."),
    ],
)
def test_what_an_address_cannot_say_is_told_in_words(asks: httpx.Client, address: str, said: str) -> None:
    told = asks.get(address)
    assert told.status_code == 422
    assert said in told.text
    assert not [word for word in FRAMEWORKS if word in told.text]


@pytest.mark.parametrize(
    ("address", "typed", "said"),
    [
        ("/wishes/look", {"look": "mauve"}, "The look: one of these is needed: day, night or red."),
        ("/wishes/look", {}, "The look: this is missing."),
        ("/cutting", {"may_buy": "w" * 9}, "Whether tape may be bought: at most 8 characters are taken."),
        ("/shelf/out", {"show": "SQ"}, "The tags: at least one is needed."),
        (
            "/shelf/receive",
            {"number": "DN-1", "line": "PO-1 · 1", "quantity": "2.5", "tags": "R_1 <i>"},
            "The quantity: a whole number is needed, such as 3",
        ),
        (
            "/shelf/receive",
            {"number": "DN-1", "line": "PO-1 · 1", "quantity": "2", "tags": "<i>"},
            "The tags: only letters, digits and . _ + - are taken, a letter or a digit first",
        ),
    ],
)
def test_what_a_form_cannot_say_is_told_in_words(
    asks: httpx.Client, address: str, typed: dict[str, str], said: str
) -> None:
    told = asks.post(address, data=typed)
    assert told.status_code == 422
    assert said.lower() in told.text.lower()
    assert not [word for word in FRAMEWORKS if word in told.text]


def test_there_are_words_for_every_kind_of_fault() -> None:
    assert [key for key in _SAID.values() if not words.says(key)] == []


def test_the_way_back_leads_back(scriptless: Page, site: str) -> None:
    scriptless.goto(f"{site}/shelf/out/undo")
    scriptless.get_by_role("link", name="Go to that page").click()
    expect(scriptless).to_have_url(f"{site}/shelf/out")
