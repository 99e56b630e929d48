"""What kind of file something is, told by what is in it and never by its name."""

import csv
import io

import puremagic

PICTURES_AND_PAPERS = frozenset({"image/jpeg", "image/png", "image/webp", "application/pdf"})
PLAIN, SHEET = "text/plain", "text/csv"
KEPT = (*sorted(PICTURES_AND_PAPERS), PLAIN, SHEET)
_WHITE = frozenset("\t\n\r\f")


def media_type(body: bytes) -> str | None:
    """The media type of what is in the file, if it is one that is kept; None otherwise.

    Pictures and papers are known by their first bytes (ISO/IEC 15948, ISO/IEC 10918-1, RFC 9649, ISO 32000).
    Text is UTF-8 without control characters; with as many cells in every row it is a sheet (RFC 4180).
    Markup is text too, but it can be run by what opens it, and is not kept.

    >>> media_type(b"%PDF-1.7"), media_type("3 m, 18 AWG".encode()), media_type(b"a,b" + bytes([10]) + b"1,2")
    ('application/pdf', 'text/plain', 'text/csv')
    >>> media_type(b"<html>"), media_type(b"MZ" + bytes(60))
    (None, None)
    """
    try:
        told = str(puremagic.from_string(body, mime=True))
    except (puremagic.PureError, ValueError):
        told = ""
    if told in PICTURES_AND_PAPERS:
        return told
    text = _plain_text(body)
    if text is None or text.lstrip().startswith("<"):
        return None
    return SHEET if _is_sheet(text) else PLAIN


def _plain_text(body: bytes) -> str | None:
    try:
        text = body.decode("utf-8-sig")
    except UnicodeDecodeError:
        return None
    return text if all(letter in _WHITE or letter >= " " for letter in text) else None


def _is_sheet(text: str) -> bool:
    """Whether every row has as many cells as the first, and there are two of each at least."""
    for delimiter in (",", ";", "\t"):
        try:
            widths = {
                len(row) for row in csv.reader(io.StringIO(text), delimiter=delimiter, strict=True) if row
            }
        except csv.Error:
            continue
        if len(widths) == 1 and widths.pop() > 1 and len(text.strip().splitlines()) > 1:
            return True
    return False
