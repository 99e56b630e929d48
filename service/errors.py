"""Every refusal this service can give.

ServiceError
├── NotFound               nothing has that key
├── BadQuantity            a number with the wrong unit, out of range, or none
├── BadRequest             the question itself cannot be read
│   └── BadQuestion        parameters of a list that cannot be, each with its name
├── BadFile                a file that is not kept; EmptyFile, FileTooLarge, WrongFileKind say why
├── BadSheets              rows that could not be brought in, each with its place
├── BadValues              values of one thing that cannot be, each with its name
├── BadSetting             a setting that is wrong or that nobody knows
├── Refused                understood, but a rule says no
│   ├── AlreadyExists      that tag is or was in use
│   ├── InUse              something else depends on it
│   ├── OffCutPitch        a length that is not a whole number of cut pitches
│   ├── ReelTooShort       more tape asked of a reel than it has left
│   ├── OverLimit          carries the findings
│   ├── NoSteadyState      a run of tape that no volts satisfy
│   ├── StepRefused        a step that does not follow, or lacks what it needs
│   ├── RefusedTags        carries each tag and why
│   │   ├── NotFree        units that somebody else has or is promised, or that are not sound
│   │   ├── NotOut         units that are not out, and so cannot come back
│   │   └── BookChanged    what was counted was changed in the book meanwhile
│   ├── Undecided          stopped before an answer was found; not the same as impossible
│   └── StaleSnapshot      stock, dates or feeds changed while planning
├── Stale                  changed since the caller read it (If-Match)
├── NoPrecondition         a change came without If-Match
├── KeyReused              one Idempotency-Key, two different requests
├── Busy                   the database or the solver is taken; try again
├── StoreUnavailable       the database cannot be reached, read or written
│   └── Unreachable        told by the client: the service does not answer, or something else does
├── Fault                  told by the client: the service failed in a way nobody foresaw
└── WrongVersion           the database is newer or older than this program

An error carries `mend`: one sentence that says how to put it right. It does not know HTTP.
"""

from collections.abc import Sequence
from dataclasses import dataclass


class ServiceError(Exception):
    """Base of all refusals; `code` is part of the public API and never changes."""

    code = "service-error"

    def __init__(self, message: str, mend: str = "") -> None:
        self.message = message
        self.mend = mend
        super().__init__(message)


class NotFound(ServiceError):
    code = "not-found"


class BadQuantity(ServiceError, ValueError):
    code = "bad-quantity"


class BadRequest(ServiceError):
    code = "bad-request"


class BadQuestion(BadRequest):
    """`faults`: each parameter that cannot be, by its name, and why."""

    def __init__(self, faults: Sequence[tuple[str, str]]) -> None:
        self.faults = tuple(faults)
        count = len(self.faults)
        super().__init__(
            self.faults[0][1] if count == 1 else f"{count} parameters cannot be read",
            "Correct what is named and ask again.",
        )


class BadFile(ServiceError):
    code = "bad-file"


class EmptyFile(BadFile):
    code = "empty-file"


class FileTooLarge(BadFile):
    code = "file-too-large"


class WrongFileKind(BadFile):
    code = "wrong-file-kind"


@dataclass(frozen=True, slots=True)
class RowError:
    """One thing wrong in one cell or row of a sheet."""

    sheet: str
    row: int | None
    column: str | None
    message: str
    mend: str

    def __str__(self) -> str:
        where = self.sheet
        if self.row is not None:
            where += f", row {self.row}"
        if self.column is not None:
            where += f", column {self.column!r}"
        return f"{where}: {self.message}. {self.mend}"


class BadSheets(ServiceError):
    code = "bad-sheets"

    def __init__(self, errors: Sequence[RowError]) -> None:
        self.errors = tuple(errors)
        count = len(self.errors)
        super().__init__(
            f"{count} {'thing' if count == 1 else 'things'} to mend in the sheets; nothing was stored",
            "Mend the rows named and bring the sheets in again.",
        )


class BadValues(ServiceError):
    """`errors`: what is wrong with each value; their column is the name of the value."""

    code = "bad-values"

    def __init__(self, errors: Sequence[RowError]) -> None:
        self.errors = tuple(errors)
        first = self.errors[0]
        about = f"{first.column}: {first.message}" if first.column else first.message
        super().__init__(
            about if len(self.errors) == 1 else f"{len(self.errors)} values cannot be taken; {about}",
            first.mend if len(self.errors) == 1 else "Correct what is named and send it again.",
        )


class BadSetting(ServiceError):
    """Every wrong setting at once; `faults` has one sentence for each."""

    code = "bad-setting"

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(faults), "Correct it and start again.")


class Refused(ServiceError):
    code = "refused"


class AlreadyExists(Refused):
    code = "already-exists"


class InUse(Refused):
    code = "in-use"


class OffCutPitch(Refused):
    code = "off-cut-pitch"


class ReelTooShort(Refused):
    code = "reel-too-short"


class OverLimit(Refused):
    code = "over-limit"

    def __init__(self, message: str, mend: str = "", findings: Sequence[object] = ()) -> None:
        self.findings = tuple(findings)
        super().__init__(message, mend)


class NoSteadyState(Refused):
    code = "no-steady-state"


class StepRefused(Refused):
    code = "step-refused"


class RefusedTags(Refused):
    """`errors`: each tag that was refused and why; its row is its place in what was sent, from 0."""

    code = "refused-tags"

    def __init__(self, errors: Sequence[RowError], what: str = "nothing was changed") -> None:
        self.errors = tuple(errors)
        first = self.errors[0]
        others = f"; {len(self.errors) - 1} more; {what}" if len(self.errors) > 1 else ""
        super().__init__(first.message + others, first.mend)


class NotFree(RefusedTags):
    code = "not-free"


class NotOut(RefusedTags):
    code = "not-out"


class BookChanged(RefusedTags):
    code = "book-changed"


class Undecided(Refused):
    code = "undecided"


class StaleSnapshot(Refused):
    code = "stale-snapshot"


class Stale(ServiceError):
    code = "stale"


class NoPrecondition(ServiceError):
    code = "no-precondition"


class KeyReused(ServiceError):
    code = "key-reused"


class Busy(ServiceError):
    code = "busy"


class StoreUnavailable(ServiceError):
    code = "store-unavailable"


class Unreachable(StoreUnavailable):
    code = "unreachable"


class Fault(ServiceError):
    code = "fault"


class WrongVersion(ServiceError):
    code = "wrong-version"
