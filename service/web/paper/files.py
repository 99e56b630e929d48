"""What is taken away as a file."""

from urllib.parse import quote

from starlette.responses import Response


def file_of(body: bytes, kind: str, name: str, how: str = "attachment") -> Response:
    """A file under a name of its own. `how`: inline, where the browser may show it itself."""
    headers = {
        "Content-Disposition": f"{how}; filename*=UTF-8''{quote(name)}",
        "Cache-Control": "no-store",
        "X-Content-Type-Options": "nosniff",
    }
    return Response(body, media_type=kind, headers=headers)
