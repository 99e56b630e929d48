"""Versions as entity tags (RFC 9110): `"7"` is version 7 of a thing."""

import re
from typing import Annotated

from fastapi import Header, Response

from service.errors import NoPrecondition, Stale

_TAG = re.compile(r'(W/)?"([^"]*)"')

IfMatch = Annotated[
    str | None,
    Header(description='the ETag you read, such as "7"; the change is refused if the thing has moved on'),
]
IfNoneMatch = Annotated[
    str | None, Header(description="an ETag you have; answered with 304 if it still holds")
]


def etag(version: int) -> str:
    return f'"{version}"'


def meant(if_match: str | None) -> frozenset[str] | None:
    """The tags a change is meant for; None: any. A weak tag matches nothing (strong comparison). Raises
    NoPrecondition, Stale."""
    if if_match is None:
        raise NoPrecondition(
            "a change must say which version it is meant for",
            "Read the thing, then send its ETag as If-Match.",
        )
    if if_match.strip() == "*":
        return None
    strong = frozenset(tag for weak, tag in _TAG.findall(if_match) if tag and not weak)
    if not strong:
        raise _no_etag(if_match)
    return strong


def _no_etag(if_match: str) -> Stale:
    return Stale(
        f"If-Match {if_match.strip()} is not the ETag of a version",
        'Send the ETag as it was answered, quotes and all, such as "7".',
    )


def expected(if_match: str | None) -> frozenset[int] | None:
    """The versions a change is meant for; None: any.

    >>> sorted(expected('"7", W/"8", "x"')), expected("*")
    ([7], None)
    """
    tags = meant(if_match)
    if tags is None:
        return None
    versions = frozenset(int(tag) for tag in tags if tag.isdecimal())
    if not versions:
        raise _no_etag(if_match or "")
    return versions


def unchanged(if_none_match: str | None, tag: str) -> Response | None:
    """The answer 304 when the caller has that tag already; a weak one counts (weak comparison)."""
    if if_none_match is None:
        return None
    known = {f'"{text}"' for _, text in _TAG.findall(if_none_match)}
    if if_none_match.strip() != "*" and tag not in known:
        return None
    return Response(status_code=304, headers={"ETag": tag})
