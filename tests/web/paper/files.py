"""Files that the pages hand out, read back as a printer or a reader would."""

from io import BytesIO

import httpx
import pypdfium2
from pypdf import PdfReader

A_POINT_MM = 25.4 / 72


def pdf_of(site: str, path: str, units: str = "metric") -> bytes:
    """The file at an address. Fails with what the service said instead."""
    answer = httpx.get(f"{site}{path}", cookies={"units": units}, timeout=90)
    assert answer.headers["content-type"] == "application/pdf", answer.text[:2000]
    return answer.content


def pdf_pages(content: bytes) -> list[str]:
    """The words of each page, without the line ends."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(content)).pages]


def pdf_text(content: bytes) -> str:
    return " ".join(pdf_pages(content))


def page_sizes_mm(content: bytes) -> set[tuple[int, int]]:
    """Width and height of its pages."""
    file = pypdfium2.PdfDocument(content)
    return {tuple(round(side * A_POINT_MM) for side in page.get_size()) for page in file}  # type: ignore[misc]


def overprinted(content: bytes) -> list[str]:
    """Letters that lie on the letter before them, and letters beyond the edge of their page."""
    found = []
    for number, page in enumerate(pypdfium2.PdfDocument(content), start=1):
        wide, _ = page.get_size()
        words = page.get_textpage()
        text = words.get_text_range()
        before: tuple[float, float, float, float] | None = None
        for n in range(words.count_chars()):
            if n >= len(text) or text[n].isspace():
                continue
            left, foot, right, top = words.get_charbox(n)
            if left < 0 or right > wide:
                found.append(f"page {number}: {text[n]!r} beyond the edge at {right:.0f} pt")
            if before is not None and _share_a_line((left, foot, right, top), before):
                shared = min(right, before[2]) - max(left, before[0])
                if shared > 0.6 * min(right - left, before[2] - before[0]):
                    found.append(f"page {number}: {text[max(0, n - 12) : n + 12]!r}")
            before = (left, foot, right, top)
    return found


def _share_a_line(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return min(one[3], other[3]) - max(one[1], other[1]) > 0.5 * min(one[3] - one[1], other[3] - other[1])


def most_colour(content: bytes) -> int:
    """How far the most coloured dot of any page is from grey, from 0 to 255."""
    most = 0
    for page in pypdfium2.PdfDocument(content):
        red, green, blue = (band.tobytes() for band in page.render(scale=1.5).to_pil().convert("RGB").split())
        most = max(most, max(max(dot) - min(dot) for dot in zip(red, green, blue, strict=True)))
    return most
