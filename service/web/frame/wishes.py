"""What this reader wants of every page: look, units, language, and the name they sign with."""

from dataclasses import dataclass
from enum import StrEnum
from urllib.parse import quote, unquote

from fastapi import Request
from starlette.responses import Response

from service.store.audit import NOBODY
from service.units import METRIC, US
from service.web.frame.words import FIRST, languages

A_YEAR_S = 365 * 24 * 3600
LONGEST_NAME = 80
OFF = "off"


class Look(StrEnum):
    """Day on white, night on black, red for the dark behind the set."""

    DAY = "day"
    NIGHT = "night"
    RED = "red"


@dataclass(frozen=True, slots=True)
class Wishes:
    """`look` None: what the device is set to. `has_keys`: single keys do something (/: the search)."""

    look: Look | None = None
    units: str = METRIC
    language: str = FIRST
    name: str = ""
    has_keys: bool = True

    @property
    def signs_as(self) -> str:
        return self.name or NOBODY


def wishes_of(request: Request, house_units: str = METRIC) -> Wishes:
    """What the reader's cookies ask for; whatever is not known is left at its default."""
    cookies = request.cookies
    look, units, language = cookies.get("look"), cookies.get("units"), cookies.get("language")
    return Wishes(
        Look(look) if look in set(Look) else None,
        units if units in (METRIC, US) else house_units,
        language if language in languages() else _accepted(request),
        own_name(unquote(cookies.get("name", ""))),
        cookies.get("keys") != OFF,
    )


def _accepted(request: Request) -> str:
    for part in request.headers.get("accept-language", "").split(","):
        name = part.partition(";")[0].strip().partition("-")[0].lower()
        if name in languages():
            return name
    return FIRST


def own_name(text: str) -> str:
    """A name to sign with; letters that cannot be printed are dropped.

    >>> own_name(" A. \\x07Electrician\\n")
    'A. Electrician'
    """
    return "".join(letter for letter in text if letter.isprintable()).strip()[:LONGEST_NAME]


def keep(response: Response, name: str, value: str) -> None:
    """Have the reader's device remember a wish; an empty one is forgotten."""
    value = own_name(value) if name == "name" else value
    if value:
        response.set_cookie(name, quote(value), max_age=A_YEAR_S, samesite="lax", httponly=True)
    else:
        response.delete_cookie(name, samesite="lax", httponly=True)


def signed(answer: Response, name: str) -> Response:
    """The answer to a form that a name was typed in: the device remembers it for the next."""
    if own_name(name):
        keep(answer, "name", name)
    return answer


def own_path(path: str) -> str:
    """The path, if it leads to a page of this service; the front page otherwise.

    >>> own_path("/find?q=a"), own_path("//example.org"), own_path("/\\\\example.org"), own_path("https://a")
    ('/find?q=a', '/', '/', '/')
    """
    sound = path.startswith("/") and not path.startswith(("//", "/\\")) and path.isprintable()
    return path if sound else "/"
