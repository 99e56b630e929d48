"""Style sheet, script, font: at addresses that change with what is in them, kept for a year."""

import gzip
import hashlib
import mimetypes
from functools import lru_cache
from pathlib import Path

from fastapi import APIRouter, Request, Response

from service.errors import NotFound
from service.web.frame.words import say

FOLDER = Path(__file__).parents[1] / "static"
KINDS = {".woff2": "font/woff2", ".webmanifest": "application/manifest+json", ".js": "text/javascript"}


@lru_cache
def edition() -> str:
    """What names the files as they are now; it changes when any of them does."""
    digest = hashlib.sha256()
    for path in sorted(FOLDER.iterdir()):
        digest.update(path.name.encode() + path.read_bytes())
    return digest.hexdigest()[:12]


def address(name: str) -> str:
    """Where a file is served."""
    return f"/static/{edition()}/{name}"


@lru_cache
def content(name: str) -> tuple[bytes, str]:
    """What is in a file, and its media type. Raises OSError where there is none."""
    path = FOLDER / name
    kind = KINDS.get(path.suffix) or mimetypes.guess_type(name)[0] or "application/octet-stream"
    return path.read_bytes(), kind


def text(name: str) -> str:
    """What is in a file, for a page that must carry it along."""
    return content(name)[0].decode()


@lru_cache
def _packed(name: str) -> bytes:
    return gzip.compress(content(name)[0], 9, mtime=0)


def _file(name: str, request: Request) -> Response:
    if name not in {path.name for path in FOLDER.iterdir()}:
        raise NotFound(say("refused-no-file", {"name": name}), say("refused-no-file-mend", {}))
    body, kind = content(name)
    # An address of another edition is answered too, so that a page that is open goes on working.
    headers = {"Cache-Control": "public, max-age=31536000, immutable", "Vary": "Accept-Encoding"}
    # A font is packed already.
    if kind != "font/woff2" and "gzip" in request.headers.get("accept-encoding", ""):
        body, headers["Content-Encoding"] = _packed(name), "gzip"
    return Response(body, media_type=kind, headers=headers)


def _keeper() -> Response:
    # From the root, for a worker answers only for addresses below its own.
    return Response(content("sw.js")[0], media_type="text/javascript", headers={"Cache-Control": "no-cache"})


def router() -> APIRouter:
    routes = APIRouter(include_in_schema=False)
    routes.add_api_route("/static/{edition}/{name}", _file, methods=["GET", "HEAD"])
    routes.add_api_route("/sw.js", _keeper, methods=["GET", "HEAD"])
    return routes
