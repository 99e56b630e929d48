"""Files that are brought in, as they are sent: a folder goes as a zip of its text files."""

import io
import zipfile
from collections.abc import Sequence
from pathlib import Path

from service.errors import BadSheets, RowError

TEXT_ENDINGS = (".csv", ".tsv", ".txt")
BOOK_ENDINGS = (".xlsx", ".zip")


def uploads(paths: Sequence[Path]) -> tuple[list[tuple[str, bytes]], list[str]]:
    """(name, content) of every path, and what is left aside. Raises BadSheets where there is none."""
    sent, remarks = [], []
    for path in paths:
        if path.is_dir():
            files = sorted(p for p in path.iterdir() if p.is_file() and not p.name.startswith("."))
            remarks += [
                f"{file.name}: left aside; name the file itself to bring it in"
                for file in files
                if file.suffix.lower() in BOOK_ENDINGS
            ]
            texts = [file for file in files if file.suffix.lower() in TEXT_ENDINGS]
            if not texts:
                raise _refused("sheets", "nothing to read was found", "Put .csv files in, or name a file.")
            sent.append((f"{path.resolve().name or 'sheets'}.zip", _zipped(texts)))
        elif path.is_file():
            sent.append((path.name, path.read_bytes()))
        else:
            raise _refused(path.name, "there is no such file or folder", "Check the path.")
    return sent, remarks


def _refused(where: str, message: str, mend: str) -> BadSheets:
    return BadSheets([RowError(where, None, None, message, mend)])


def _zipped(files: Sequence[Path]) -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in files:
            archive.writestr(file.name, file.read_bytes())
    return held.getvalue()
