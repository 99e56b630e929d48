"""A page as a file, where the machine has what lays it out, else a refusal that says what to install."""

from service.errors import Refused

LIBRARIES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
try:
    from service.web.paper.laying import laid_out
except OSError:  # they are Debian's, not Python's: a service that lacks them does all else
    laid_out = None  # type: ignore[assignment]


def pdf_of(page: str) -> bytes:
    """The page laid out on paper as its print style says. Raises Refused."""
    if laid_out is None:
        raise Refused(
            "this machine has nothing that lays pages out",
            f"Have somebody run `apt-get install {LIBRARIES}` on it and start the service again; "
            "until then print the page itself.",
        )
    return laid_out(page)
