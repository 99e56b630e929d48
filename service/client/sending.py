"""Requests sent until they are answered: again after a break, but only where that cannot do a thing twice.

Reading may be repeated (RFC 9110, 9.2.2). A POST carries an Idempotency-Key, the same one each time it is
sent, so that the service does it once. A change under If-Match is done once because the version it names is
gone afterwards.
"""

import random
import re
import time
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from http import HTTPStatus
from ipaddress import ip_address
from typing import Any, NoReturn
from urllib.parse import urlsplit

import httpx

from service.client.refusals import refusal
from service.errors import BadRequest, Unreachable

READING = frozenset({"GET", "HEAD", "OPTIONS"})
NOT_NOW = frozenset({429, 502, 503, 504})
LONGEST_PAUSE_S = 10.0
# A service that is there takes a connection at once; a host that is not never answers.
CONNECT_S = 5.0
START = "Start it (wattwright serve), or check the address and the port."


@dataclass(frozen=True, slots=True)
class Manner:
    """How patiently to ask. `timeout_s`: seconds without a byte after which an answer is given up; `tries`:
    times a request is sent at most; `pause_s`: seconds before the second time, doubled each time after;
    `longest_s`: told to come back later than that, it refuses instead."""

    timeout_s: float = 30.0
    tries: int = 4
    pause_s: float = 0.25
    longest_s: float = 60.0


class Sender:
    """One service, by its address, and who asks."""

    def __init__(self, url: str, by: str, manner: Manner) -> None:
        self.url, self.manner = _sound(url), manner
        # As it may be shown: what stands before an @ is a secret.
        self.name = re.sub(r"//[^/@]*@", "//", self.url)
        self._client = httpx.Client(
            headers=[(b"x-by", _as_header(by)), (b"accept", b"application/json")],
            timeout=httpx.Timeout(manner.timeout_s, connect=min(CONNECT_S, manner.timeout_s)),
            # A proxy that the environment names leads nowhere from this machine to itself.
            trust_env=not _is_this_machine(self.url),
        )

    def close(self) -> None:
        self._client.close()

    def request(self, method: str, path: str, timeout_s: float | None = None, **what: Any) -> httpx.Request:
        """`path`: below the address of the service. A POST gets a key of its own unless it has one."""
        given = {**(what.pop("headers", None) or {})}
        if method == "POST" and "idempotency-key" not in {name.lower() for name in given}:
            given["Idempotency-Key"] = str(uuid.uuid4())
        if timeout_s is not None:
            what["timeout"] = httpx.Timeout(timeout_s, connect=min(CONNECT_S, timeout_s))
        made = self._client.build_request(method, self.url + path, headers=given, **what)
        made.read()  # kept whole, so that it can be sent again byte for byte
        return made

    def send(self, request: httpx.Request) -> httpx.Response:
        """Raises Refusal for what the service refuses, Unreachable when it does not answer."""
        is_unsure, is_last = False, False
        for number in range(1, self.manner.tries + 1):
            is_last = number == self.manner.tries
            try:
                response = self._client.send(request, follow_redirects=request.method in READING)
            except httpx.RequestError as error:
                never_left = isinstance(error, httpx.ConnectError | httpx.ConnectTimeout)
                is_unsure |= not never_left
                if is_last or not (never_left or may_repeat(request)):
                    self._give_up(error, is_unsure and request.method not in READING)
                self._pause(number, None)
                continue
            wait_s = _retry_after_s(response)
            is_again = response.status_code in NOT_NOW and wait_s <= self.manner.longest_s
            if is_last or not is_again or not (response.status_code == 429 or may_repeat(request)):
                return self._fit(response, is_unsure)
            # What stands between may give up on an answer that the service still works on.
            is_unsure |= response.status_code in (502, 504)
            self._pause(number, wait_s)
        raise AssertionError("sent at least once")

    def _pause(self, number: int, wait_s: float | None) -> None:
        """Longer each time, and never the same for two who were cut off together."""
        longest = min(LONGEST_PAUSE_S, self.manner.pause_s * 2 ** (number - 1))
        time.sleep(max(wait_s or 0.0, random.uniform(0.5, 1.0) * longest))

    def _fit(self, response: httpx.Response, is_unsure: bool) -> httpx.Response:
        """The response, unless it refuses."""
        if not response.is_error:
            return response
        problem = _problem(response)
        if problem is not None:
            raise refusal(response.status_code, problem, is_unsure)
        status = response.status_code
        said = f"{status} {HTTPStatus(status).phrase}" if status in set(HTTPStatus) else str(status)
        if status in NOT_NOW:
            what = f"{self.name} does not answer: what stands before it says {said}"
            raise Unreachable(what, "Try again in a moment; if it stays, look whether the service runs.")
        raise Unreachable(f"{self.name} answers {said}, but not as this service does", START)

    def _give_up(self, error: httpx.RequestError, is_unsure: bool) -> NoReturn:
        if isinstance(error, httpx.ReadTimeout):
            said = f"{self.name} took the request and did not answer in time"
            mend = "Allow more time, or look what the service is at."
        else:
            said = f"{self.name} cannot be reached: {str(error) or type(error).__name__}"
            mend = START
        if is_unsure:
            mend = f"Look whether the change is in before you ask again. {mend}"
        raise Unreachable(said, mend) from error


def may_repeat(request: httpx.Request) -> bool:
    """Whether a request that may have been done can be sent again without being done twice."""
    if request.method in READING:
        return True
    if request.method == "POST":
        return "idempotency-key" in request.headers
    held: str = request.headers.get("if-match", "*")
    return held.strip() != "*"


def stranger(url: str) -> Unreachable:
    """An answer that the service would not give."""
    return Unreachable(f"{url} answers, but not as this service does", START)


def _problem(response: httpx.Response) -> Mapping[str, Any] | None:
    try:
        said = response.json()
    except ValueError:
        return None
    return said if isinstance(said, dict) and isinstance(said.get("code"), str) else None


def _retry_after_s(response: httpx.Response) -> float:
    """Seconds that the answer asks to wait, given as seconds or as a date (RFC 9110, 10.2.3)."""
    said = response.headers.get("retry-after", "").strip()
    if said.isdecimal():
        return float(said)
    try:
        at = parsedate_to_datetime(said)
    except ValueError:
        return 0.0
    return max(0.0, (at.astimezone(UTC) - datetime.now(UTC)).total_seconds())


def _sound(url: str) -> str:
    """The address without a slash at its end. Raises BadRequest."""
    try:
        parts = urlsplit(url)
        is_one = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        is_one = False
    if not is_one or "?" in url or "#" in url:
        raise BadRequest(f"{url!r} is not the address of a service", "Give it as http://HOST:PORT.")
    return url.rstrip("/")


def _as_header(by: str) -> bytes:
    try:
        found = by.strip().encode("latin-1")
    except UnicodeEncodeError:
        found = b""
    if not found or len(found) > 80 or not by.isprintable():
        raise BadRequest(
            f"{by!r} cannot be sent as the name of who asks",
            "Name yourself in 1 to 80 letters of ISO 8859-1.",
        )
    return found


def _is_this_machine(url: str) -> bool:
    host = urlsplit(url).hostname or ""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
