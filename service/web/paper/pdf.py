"""A page as a file, where the machine has what lays it out, else a refusal that says what to install."""

from service.errors import Refused
from service.web.frame.pages import Reader

LIBRARIES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"
try:
    from service.web.paper.laying import laid_out
except OSError:  # they are Debian's, not Python's: a service that lacks them does all else
    laid_out = None  # type: ignore[assignment]


def pdf_of(page: str, reader: Reader) -> bytes:
    """The page laid out on paper as its print style says. Raises Refused."""
    if laid_out is None:
        raise reader.refuse(Refused, "refused-no-layout", libraries=LIBRARIES)
    return laid_out(page)
