"""The client: a running service asked from a script, over HTTP."""

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import Any, Literal, NamedTuple, Self, TypeAlias, cast, overload
from urllib.parse import parse_qsl, quote, urlsplit

import httpx

from service.client.refusals import Refusal
from service.client.rows import BroughtIn, DarkRow, Feed, LimitRow, LoadRow, Plan, StockRow
from service.client.sending import Manner, Sender, stranger
from service.client.sheets import uploads
from service.errors import Busy, NotFound, Refused

ROOT = "/api/v1"
FIRST_LOOK_S, LAST_LOOK_S = 0.1, 1.0
SHEETS_S = 300.0  # a whole season in one workbook takes seconds; a very large one minutes
FEEDING = frozenset({"supplies", "batteries", "decoders", "outlets"})

Row = dict[str, Any]
Rows = list[Row]
# Inside the class `list` is a list of the service.
LoadRows: TypeAlias = list[LoadRow]
LimitRows: TypeAlias = list[LimitRow]
StockRows: TypeAlias = list[StockRow]
DarkRows: TypeAlias = list[DarkRow]
Value = str | int | float | bool | date | Sequence[str] | None


class Thing(NamedTuple):
    """One thing as the service answers it, and the ETag of that version."""

    row: Row
    etag: str


class Wattwright:
    """A running service. Close it when done, or use it as a context manager.

    `by`: your name for the record, on every change; it is not proven until people sign in. What the service
    refuses is raised as a Refusal that is also of its class in `service.errors`; a service that does not
    answer, as Unreachable. What breaks on the way is asked again where that cannot do a thing twice.
    """

    def __init__(self, url: str, by: str = "script", *, manner: Manner | None = None) -> None:
        """Raises BadRequest for an address or a name that cannot be used. Nothing is asked yet."""
        self._sender = Sender(url, by, manner or Manner())

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        self._sender.close()

    @property
    def url(self) -> str:
        """The address, without what it may carry before an @."""
        return self._sender.name

    def ask(
        self,
        method: str,
        path: str,
        *,
        params: Mapping[str, Value] | None = None,
        json: object = None,
        files: Sequence[tuple[str, bytes]] = (),
        headers: Mapping[str, str] | None = None,
        timeout_s: float | None = None,
    ) -> httpx.Response:
        """The answer to anything the service can be asked; `path` is below /api/v1, or a Location it gave.

        `json`: the body; `files`: name and content of each, sent as a form instead. Raises Refusal,
        Unreachable.
        """
        sent = [("file", one) for one in files] or None
        asked = {name: _text(value) for name, value in (params or {}).items() if value is not None}
        below = path if path == ROOT or path.startswith(f"{ROOT}/") else ROOT + path
        request = self._sender.request(
            method.upper(), below, timeout_s, params=asked, json=_plain(json), files=sent, headers=headers
        )
        return self._sender.send(request)

    def list(self, plural: str, **filters: Value) -> Iterator[Row]:
        """Every row of a list, page after page as they are wanted. `limit`: rows of one page."""
        return self._pages(f"/{plural}", filters)

    def history(self, plural: str, key: str | int) -> Iterator[Row]:
        """Every change of one thing, oldest first: what it was, what it became, who said so."""
        return self._pages(f"{_address(plural, key)}/history", {})

    def _pages(self, path: str, params: Mapping[str, Value]) -> Iterator[Row]:
        while True:
            answer = self.ask("GET", path, params=params)
            yield from cast(Rows, self._json(answer, list))
            if "next" not in answer.links:
                return
            # Only where to go on is taken from the link: whatever stands before the service may have added to
            # its address.
            params = dict(parse_qsl(urlsplit(answer.links["next"]["url"]).query))

    def get(self, plural: str, key: str | int) -> Thing:
        """One thing by its tag, in any letter case, or by its number where it has no tag. Raises NotFound."""
        return self._thing(self.ask("GET", _address(plural, key)))

    def create(self, plural: str, values: Mapping[str, object]) -> Thing:
        """A new thing. Raises AlreadyExists, BadValues."""
        return self._thing(self.ask("POST", f"/{plural}", json=values))

    def change(
        self, plural: str, key: str | int, values: Mapping[str, object], if_match: str | None = None
    ) -> Thing:
        """The thing with those values in place of its own. `if_match`: the ETag the change is meant for; when
        left out, that of the thing as it is now. Raises NotFound, Stale, BadValues."""
        path = _address(plural, key)
        held = {"If-Match": if_match or self.get(plural, key).etag}
        try:
            return self._thing(self.ask("PATCH", path, json=values, headers=held))
        except Refusal as refused:
            now = self.get(plural, key) if refused.is_unsure else None
            if now is not None and _is_in(_plain(values), now.row):
                return now
            raise

    def retire(self, plural: str, key: str | int, if_match: str | None = None) -> Thing:
        """The thing, taken out of use: a tag is never used again, and what it did stays on record.
        Raises NotFound, Stale, InUse."""
        before = self.get(plural, key)
        held = {"If-Match": if_match or before.etag}
        try:
            return self._thing(self.ask("DELETE", _address(plural, key), headers=held))
        except Refusal as refused:
            if not refused.is_unsure:
                raise
            try:
                now = self.get(plural, key)
            except NotFound:
                return before
            if self._is_retired(plural, key):
                return now
            raise

    def restore(self, plural: str, key: str | int, if_match: str | None = None) -> Thing:
        """A retired thing, back in use. Raises NotFound, Stale, BadRequest for one that is not retired."""
        held = {"If-Match": if_match or self.get(plural, key).etag}
        try:
            return self._thing(self.ask("POST", f"{_address(plural, key)}/restore", headers=held))
        except Refusal as refused:
            if refused.is_unsure and not self._is_retired(plural, key):
                return self.get(plural, key)
            raise

    def step(
        self,
        plural: str,
        key: str | int,
        to: str,
        what: str = "",
        despite: str = "",
        if_match: str | None = None,
    ) -> Thing:
        """The thing after a step on its path. `what`: what is seen, found or done; `despite`: why it is taken
        though it does not follow. Raises NotFound, Stale, StepRefused, BadValues."""
        held = {"If-Match": if_match or self.get(plural, key).etag}
        path = f"{_address(plural, key)}/steps"
        asked = {"to": to, "what": what, "despite": despite or None}
        try:
            return self._thing(self.ask("POST", path, json=asked, headers=held))
        except Refusal as refused:
            if refused.is_unsure and self.path(plural, key)["stands"] == to.strip().lower():
                return self.get(plural, key)
            raise

    def path(self, plural: str, key: str | int) -> Row:
        """The steps of a thing so far, where it stands, and what may come next. Raises NotFound."""
        return cast(Row, self._json(self.ask("GET", f"{_address(plural, key)}/steps"), dict))

    def attach(self, tag: str, path: str | Path, caption: str = "") -> Thing:
        """A photo or document, kept with the thing; the same file on the same thing is kept once. Raises
        NotFound, BadFile."""
        file = Path(path)
        form = {"about": tag, "caption": caption}
        sent = [("file", (file.name, file.read_bytes()))]
        request = self._sender.request("POST", f"{ROOT}/attachments", SHEETS_S, data=form, files=sent)
        return self._thing(self._sender.send(request))

    def attached(self, number: int) -> bytes:
        """The file of an attachment. Raises NotFound."""
        return self.ask("GET", f"/attachments/{number}/file", timeout_s=SHEETS_S).content

    def _is_retired(self, plural: str, key: str | int) -> bool:
        """As its history says: not every list shows it."""
        changes = (change["after"] or {} for change in self.history(plural, key))
        said = [after["retired_on"] for after in changes if "retired_on" in after]
        return bool(said and said[-1])

    @overload
    def report(self, name: Literal["loads"], **ask: Value) -> LoadRows: ...  # type: ignore[overload-overlap]
    @overload
    def report(self, name: Literal["over-limit"], **ask: Value) -> LimitRows: ...  # type: ignore[overload-overlap]
    @overload
    def report(self, name: Literal["stock-use"], **ask: Value) -> StockRows: ...  # type: ignore[overload-overlap]
    @overload
    def report(self, name: str, **ask: Value) -> Rows: ...
    def report(self, name: str, **ask: Value) -> object:
        """The rows of a report. `production`: one show, by its code; `as_of`: the day it is of; `everything`:
        also what is in order, and what is history."""
        said = self._json(self.ask("GET", f"/reports/{_quoted(name)}", params=ask), dict)
        return said["rows"]

    def report_csv(self, name: str, **ask: Value) -> str:
        """The same as CSV (RFC 4180) with a line of heads."""
        return self.ask("GET", f"/reports/{_quoted(name)}", params=ask, headers={"Accept": "text/csv"}).text

    def feed(self, tag: str) -> Feed:
        """What feeds an element, from the wall to its leads, and what to suspect when it is dark."""
        return cast(Feed, self._json(self.ask("GET", f"{_address('elements', tag)}/feed"), dict))

    def dark(self, tag: str) -> DarkRows:
        """What goes dark without a supply, battery, decoder or outlet."""
        plural, printed = self.where(tag)
        if plural not in FEEDING:
            raise NotFound(
                f"nothing hangs on {printed}: it is on the list of {plural}",
                "Ask for a supply, a battery, a decoder or an outlet.",
            )
        return cast(DarkRows, self._json(self.ask("GET", f"{_address(plural, printed)}/dark"), list))

    def where(self, tag: str) -> tuple[str, str]:
        """The list that a label's tag is on, and the tag as printed. Raises NotFound."""
        plural, printed = self.ask("GET", f"/l/{_quoted(tag)}").url.path.rsplit("/", 2)[1:]
        return plural, printed

    def allocate(
        self,
        code: str,
        *,
        wait_s: float | None = None,
        told: Callable[[Plan], None] | None = None,
        **how: Value,
    ) -> Plan:
        """A plan of the production, worked out to its end.

        `how`: `mend`, `effort`, `seed`, `deadline_s`, `from_on`, `to_on`. `wait_s`: seconds to wait at most,
        after which Busy is raised and the service works on. `told`: is given the plan each time it is looked
        at. Interrupted, it asks the service to stop. Raises Refused when there is no plan, with the reason.
        """
        wanted = {name: value for name, value in how.items() if value is not None}
        promised = self.ask("POST", f"/productions/{_quoted(code)}/plans", json=wanted)
        path = promised.headers["Location"]
        try:
            plan = self._when_done(path, wait_s, told)
        except (KeyboardInterrupt, SystemExit):
            self.ask("POST", f"{path}/cancel")
            raise
        if plan["status"] in ("failed", "cancelled"):
            why = plan["error"] or "no reason given"
            raise Refused(f"plan {plan['number']} of {code} {plan['status']}: {why}", "Ask for another plan.")
        return plan

    def _when_done(self, path: str, wait_s: float | None, told: Callable[[Plan], None] | None) -> Plan:
        started, pause_s = time.monotonic(), FIRST_LOOK_S
        while True:
            plan = cast(Plan, self._json(self.ask("GET", path), dict))
            if told is not None:
                told(plan)
            if plan["status"] not in ("queued", "working"):
                return plan
            if wait_s is not None and time.monotonic() - started >= wait_s:
                raise Busy(
                    f"plan {plan['number']} of {plan['production']} is {plan['status']} after {wait_s:g} s",
                    f"Wait longer, or read it later at {path}.",
                )
            time.sleep(pause_s)
            pause_s = min(LAST_LOOK_S, pause_s * 1.5)

    def keep(self, code: str, number: int) -> Plan:
        """A draft becomes what the crew works from. Raises NotFound, Refused, StaleSnapshot."""
        path = f"/productions/{_quoted(code)}/plans/{number}"
        held = {"If-Match": self.ask("GET", path).headers["ETag"]}
        try:
            plan = self._json(self.ask("POST", f"{path}/keep", headers=held), dict)
        except Refusal as refused:
            plan = self._json(self.ask("GET", path), dict) if refused.is_unsure else {}
            if plan.get("status") != "kept":
                raise
        return cast(Plan, plan)

    def bring_in(
        self,
        path: str | Path,
        *more: str | Path,
        dry_run: bool = False,
        may_change: bool = False,
        as_of: date | str | None = None,
    ) -> BroughtIn:
        """Sheets: a workbook, a folder of CSV files, a zip or a CSV file, all of them or none. `dry_run`:
        only say what would come in. `may_change`: a row about a thing that is there changes it. Raises
        BadSheets with every row to be mended."""
        files, remarks = uploads([Path(one) for one in (path, *more)])
        asked: dict[str, Value] = {"dry_run": dry_run, "change": may_change, "as_of": as_of}
        answer = self.ask("POST", "/sheets", files=files, params=asked, timeout_s=SHEETS_S)
        said = cast(BroughtIn, self._json(answer, dict))
        return {**said, "remarks": [*remarks, *said["remarks"]]}

    def export(self) -> bytes:
        """Everything there is, as a zip of sheets that can be brought in again."""
        return self.ask("GET", "/export", headers={"Accept": "application/zip"}, timeout_s=SHEETS_S).content

    def _thing(self, answer: httpx.Response) -> Thing:
        return Thing(self._json(answer, dict), answer.headers.get("etag", ""))

    def _json(self, answer: httpx.Response, kind: type) -> Any:
        try:
            said = answer.json()
        except ValueError:
            said = None
        if not isinstance(said, kind):
            raise stranger(self.url)
        return said


def _quoted(name: str | int) -> str:
    """A tag as one step of an address; one of nothing but dots would lead elsewhere (RFC 3986, 5.2.4).

    >>> _quoted("PS 1/2"), _quoted("..")
    ('PS%201%2F2', '%2E%2E')
    """
    step = quote(str(name), safe="")
    return step if step.strip(".") else step.replace(".", "%2E")


def _address(plural: str, key: str | int) -> str:
    return f"/{plural}/{_quoted(key)}"


def _text(value: Value) -> str:
    """A parameter as it stands in an address.

    >>> _text(True), _text(date(2026, 11, 25)), _text(["SQ", "TW"])
    ('true', '2026-11-25', 'SQ,TW')
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ",".join(value)
    return str(value)


def _plain(value: object) -> Any:
    """The same in what JSON has words for: days become text."""
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {name: _plain(one) for name, one in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_plain(one) for one in value]
    return value


def _is_in(wanted: Any, found: Any) -> bool:
    """Whether a thing has every value that was wanted; what it has besides does not count.

    >>> _is_in({"runs": [{"lead_m": 5}]}, {"tag": "SQ-09", "runs": [{"run": 1, "lead_m": 5.0}]})
    True
    """
    if isinstance(wanted, dict) and isinstance(found, dict):
        return all(name in found and _is_in(one, found[name]) for name, one in wanted.items())
    if isinstance(wanted, list) and isinstance(found, list):
        return len(wanted) == len(found) and all(map(_is_in, wanted, found))
    return bool(wanted == found)
