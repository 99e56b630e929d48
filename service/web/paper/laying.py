"""A page laid out as a fixed file, from the very same style sheet. Wants libraries of the machine's own."""

import logging
from urllib.parse import urlsplit

import weasyprint
from weasyprint.urls import URLFetcher, URLFetcherResponse

from service.web.frame import files

BASE = "https://own.invalid/"  # no such host: nothing can be fetched from it by mistake


class _OwnFiles(URLFetcher):  # type: ignore[misc]
    """Reads the files of the pages themselves and nothing else: what a page says can load nothing."""

    def fetch(self, url: str, headers: object = None) -> URLFetcherResponse:  # noqa: ARG002
        path = urlsplit(url).path
        name = path.rpartition("/")[2]
        if not url.startswith(f"{BASE}static/"):
            raise ValueError(f"{url} is not a file of a page")
        body, kind = files.content(name)
        return URLFetcherResponse(url, body, {"Content-Type": kind})


def laid_out(page: str) -> bytes:
    """The page laid out on paper as its print style says."""
    logging.getLogger("weasyprint").setLevel(logging.CRITICAL)  # it tells of every rule meant for screens
    logging.getLogger("fontTools").setLevel(logging.ERROR)
    made = weasyprint.HTML(string=page, base_url=BASE, url_fetcher=_OwnFiles()).write_pdf()
    assert made is not None
    return bytes(made)
