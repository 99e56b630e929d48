"""A folder, a file or an upload becomes sheets with known names; every file that fails is named.

What is read: a folder of .csv files, one .csv, one .xlsx or .ods workbook, or a .zip of .csv files. A
sheet's name is its file's or its tab's. Names that start with "_" or "notes" are left aside.
"""

import difflib
import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path, PurePosixPath
from typing import TypeVar

from service.errors import BadSheets, RowError
from service.kinds.cells import Cell
from service.paper.files.delimited import rows_of
from service.paper.files.excel import OLE_START, ZIP_START, is_workbook, open_zip, sheets_of
from service.paper.files.raw import (
    MAX_FILE_BYTES,
    MAX_SHEETS,
    RawSheet,
    Reading,
    UnreadableError,
    table,
)

_TEXT_ENDINGS = (".csv", ".tsv", ".txt")
MOST_SAID = 5  # of what was left aside, where all was
_Rows = list[tuple[int, list[Cell]]]
T = TypeVar("T")


def name_key(name: str) -> str:
    """Names are the same if only case, spaces, marks or a leading number differ.

    >>> name_key("03 Tape_Types"), name_key("tape-types")
    ('tapetypes', 'tapetypes')
    """
    return re.sub(r"[^a-z0-9]", "", re.sub(r"^\d+\W*_*", "", name.strip().lower()))


def is_left_aside(name: str) -> bool:
    return name.startswith("_") or name.strip().lower().startswith("notes")


class _Collector:
    """Takes sheets as they are found and keeps what is wrong with each beside its name. `name`: of what they
    are taken from."""

    def __init__(self, known: Mapping[str, str], name: str) -> None:
        self.known = known
        self.name = name
        self.sheets: dict[str, RawSheet] = {}
        self.remarks: list[str] = []
        self.errors: list[RowError] = []

    def fault(self, sheet: str, fault: UnreadableError) -> None:
        self.errors.append(RowError(sheet, fault.row, None, fault.message, fault.mend))

    def add(self, label: str, source: str, rows: _Rows) -> None:
        if is_left_aside(label):
            self.remarks.append(f"{source}: {label!r} left aside")
            return
        name = self.known.get(name_key(label))
        try:
            sheet = table(name or label, source, rows)
        except UnreadableError as fault:
            self.fault(source, fault)
            return
        if sheet is None:
            self.remarks.append(f"{source}: {label!r} is empty")
        elif name is None:
            self.errors.append(_unknown_sheet(label, source, self.known))
        elif name in self.sheets:
            self.errors.append(
                RowError(
                    source, None, None, f"{name!r} comes twice: also in {self.sheets[name].source}",
                    "Put all its rows in one sheet.",
                )
            )  # fmt: skip
        else:
            self.sheets[name] = sheet

    def finish(self) -> Reading:
        if not self.sheets and not self.errors:
            self.errors.append(self._nothing())
        if self.errors:
            raise BadSheets(self.errors)
        return Reading(tuple(self.sheets.values()), tuple(self.remarks))

    def _nothing(self) -> RowError:
        why = "; ".join(remark.removeprefix(f"{self.name}: ") for remark in self.remarks[:MOST_SAID])
        return RowError(
            self.name, None, None, "holds nothing to read" + (f": {why}" if why else ""),
            "Put a row of heads in, and rows below it. A name that starts with _ or notes is left aside.",
        )  # fmt: skip


def _unknown_sheet(label: str, source: str, known: Mapping[str, str]) -> RowError:
    near = difflib.get_close_matches(name_key(label), list(known), n=1, cutoff=0.5)
    names = ", ".join(dict.fromkeys(known.values()))
    guess = f"Did you mean {known[near[0]]!r}? " if near else ""
    return RowError(
        source, None, None, f"{label!r} is not a sheet that is known here",
        f"{guess}Known: {names}. A name that starts with _ is left aside.",
    )  # fmt: skip


def read_path(path: Path, known: Mapping[str, str]) -> Reading:
    """The sheets of a folder, a text file, a workbook or a zip; `known` maps name keys to sheet names."""
    collector = _Collector(known, path.resolve().name)
    if path.is_dir():
        files = sorted(p for p in path.iterdir() if p.is_file() and not p.name.startswith("."))
        # Said first, as the client does, which does not send them.
        collector.remarks += [
            f"{file.name}: left aside; name the file itself to bring it in"
            for file in files
            if file.suffix.lower() in (".xlsx", ".ods", ".zip")
        ]
        for file in files:
            if file.suffix.lower() in _TEXT_ENDINGS:
                _read_file(file, collector)
    elif path.is_file():
        _read_file(path, collector)
    else:
        raise BadSheets(
            [RowError(path.name, None, None, "there is no such file or folder", "Check the path.")]
        )
    return collector.finish()


def _read_file(file: Path, collector: _Collector) -> None:
    if file.stat().st_size > MAX_FILE_BYTES:
        collector.fault(file.name, _too_large())
        return
    _take(file.read_bytes(), file.name, collector)


def read_bytes(content: bytes, filename: str, known: Mapping[str, str]) -> Reading:
    """The same for an upload; the content decides what it is, the name only what the sheet is called."""
    name = PurePosixPath(filename.replace("\\", "/")).name or "upload"
    collector = _Collector(known, name)
    _take(content, name, collector)
    return collector.finish()


def _too_large() -> UnreadableError:
    return UnreadableError(
        f"is larger than {MAX_FILE_BYTES // 1_000_000} MB",
        "Take pictures out, or bring it in as several files.",
    )


def _take(content: bytes, filename: str, collector: _Collector) -> None:
    try:
        if len(content) > MAX_FILE_BYTES:
            raise _too_large()
        if content.startswith(OLE_START):
            raise UnreadableError(
                "is an old or password-protected workbook", "Save it as .xlsx without a password."
            )
        if content.startswith(ZIP_START):
            _take_zip(content, filename, collector)
        else:
            _take_text(content, filename, collector)
    except UnreadableError as fault:
        collector.fault(filename, fault)


def _take_text(content: bytes, filename: str, collector: _Collector) -> None:
    stem = PurePosixPath(filename).stem
    if is_left_aside(stem):
        collector.remarks.append(f"{filename}: left aside")
        return
    rows, remark = rows_of(content)
    if remark:
        collector.remarks.append(f"{filename}: {remark}")
    collector.add(stem, filename, rows)


def _take_zip(content: bytes, filename: str, collector: _Collector) -> None:
    archive = open_zip(content)
    if is_workbook(archive):
        for label, shown, rows in _bounded(sheets_of(archive, content)):
            if shown:
                collector.add(label, f"{filename} [{label}]", rows)
            else:
                collector.remarks.append(f"{filename}: hidden sheet {label!r} left aside")
        return
    for member in _bounded(m for m in archive.infolist() if not m.is_dir()):
        inner = PurePosixPath(member.filename)
        if inner.name.startswith(".") or "__MACOSX" in inner.parts:
            continue
        if inner.suffix.lower() not in _TEXT_ENDINGS:
            collector.remarks.append(
                f"{filename}: {inner.name!r} left aside; only .csv files are read in a zip"
            )
            continue
        try:
            _take_text(archive.read(member), inner.name, collector)
        except UnreadableError as fault:
            collector.fault(inner.name, fault)


def _bounded(things: Iterable[T]) -> Iterator[T]:
    for count, thing in enumerate(things, start=1):
        if count > MAX_SHEETS:
            raise UnreadableError(f"holds more than {MAX_SHEETS} sheets", "Bring them in with several files.")
        yield thing
