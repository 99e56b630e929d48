"""Settings: from the command's options, else `WATTWRIGHT_*`, else the TOML file named by WATTWRIGHT_CONFIG.

The only module that reads the environment. Whatever is wrong is refused at the start with its name, its value
and what is allowed; a name nobody knows is refused with the nearest one that is.
"""

import difflib
import ipaddress
import os
import re
import tomllib
from collections.abc import Mapping
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from pathlib import Path
from typing import Any, Self
from zoneinfo import ZoneInfo

from pydantic import ByteSize, Field, ValidationError, field_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

from service.errors import BadSetting

PREFIX = "WATTWRIGHT_"
FILE = PREFIX + "CONFIG"
LOCAL = "local"
EARLIEST = date(1900, 1, 1)  # nothing was on record; earlier days have no instant in every zone
# As the commands call them.
OPTIONS = {
    "database_url": "--database",
    "server": "--server",
    "today": "--as-of",
    "solve_deadline_s": "--deadline",
}


class Units(StrEnum):
    METRIC = "metric"
    US = "US"


class LogLevel(StrEnum):
    DEBUG = "debug"
    INFO = "info"
    WARNING = "warning"
    ERROR = "error"


def _spare_cores() -> int:
    """One core is left for the pages and the look-ups."""
    return max(1, (os.cpu_count() or 1) - 1)


def _setting(default: Any, what: str, allowed: str, **more: Any) -> Any:
    extra: dict[str, Any] = {"allowed": allowed}
    if callable(default):
        return Field(default_factory=default, description=what, json_schema_extra=extra, **more)
    return Field(default=default, description=what, json_schema_extra=extra, **more)


class Settings(BaseSettings):
    """Every setting there is; each says what it does and what it may be."""

    model_config = SettingsConfigDict(
        env_prefix=PREFIX, env_ignore_empty=True, extra="forbid", frozen=True, validate_default=False
    )

    database_url: str = _setting(
        "sqlite:///wattwright.db",
        "where everything is kept",
        "sqlite:///FILE (a local disk, not a network share) or postgresql://USER@HOST/NAME",
    )
    server: str | None = _setting(
        None,
        "a running service that commands ask instead of a database",
        "http://HOST:PORT or https://HOST",
    )
    host: str = _setting(
        "127.0.0.1",
        "the address served; this machine only, until people can sign in",
        "a loopback address: 127.0.0.1, ::1 or localhost",
    )
    port: int = _setting(
        8042, "the port served; 0 takes any free one", "a whole number from 0 to 65535", ge=0, le=65535
    )
    today: date | None = _setting(
        None, "the day everything is asked as of, instead of today's", "a day as YYYY-MM-DD"
    )
    time_zone: str = _setting(
        LOCAL, "the house's time zone, which says when a day begins",
        f"an IANA name such as Europe/London, or {LOCAL} for this machine's own",
    )  # fmt: skip
    solver_processes: int = _setting(
        _spare_cores,
        "processes that work out plans; one core fewer than there are",
        "a whole number from 1 to 64",
        ge=1,
        le=64,
    )
    solve_deadline_s: float = _setting(
        120.0, "seconds after which a plan is given as it stands, marked as stopped early",
        "seconds from 0.1 to 86400", ge=0.1, le=86400, allow_inf_nan=False,
    )  # fmt: skip
    largest_attachment: ByteSize = _setting(
        ByteSize(8_000_000), "the largest photo or document kept of a thing, in bytes",
        "a size from 1 kB to 16 MB, such as 8 MB; a bare number is in bytes",
    )  # fmt: skip
    units: Units = _setting(
        Units.METRIC,
        "the units of lengths in what is printed for people; JSON and CSV stay metric",
        "metric or US",
    )
    log_level: LogLevel = _setting(
        LogLevel.INFO, "how much the server says on standard error", "debug, info, warning or error"
    )

    @field_validator("host")
    @classmethod
    def _loopback_only(cls, value: str) -> str:
        if value == "localhost" or ipaddress.ip_address(value.strip("[]")).is_loopback:
            return value.strip("[]")
        raise ValueError("not loopback")

    @field_validator("largest_attachment")
    @classmethod
    def _fits_a_request(cls, value: ByteSize) -> ByteSize:
        if 1_000 <= value <= 16_000_000:
            return value
        raise ValueError("out of range")

    @field_validator("server")
    @classmethod
    def _known_server(cls, value: str | None) -> str | None:
        if value is None or re.fullmatch(r"https?://[^/?#\s]+(/[^?#\s]*)?", value):
            return value
        raise ValueError("unknown server")

    @field_validator("database_url")
    @classmethod
    def _known_database(cls, value: str) -> str:
        if re.match(r"(sqlite:///?.|(postgres|postgresql|postgresql\+psycopg)://.)", value):
            return value
        raise ValueError("unknown database")

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        if value != LOCAL:
            try:
                ZoneInfo(value)
            except (OSError, LookupError) as error:
                raise ValueError("unknown time zone") from error
        return value

    def as_of(self, now: datetime | None = None) -> date:
        """The day that questions are asked as of: the one set, else today in the house's time zone."""
        if self.today is not None:
            return self.today
        moment = now or datetime.now().astimezone()
        return moment.astimezone(self.zone).date()

    @property
    def zone(self) -> ZoneInfo | None:
        """The house's time zone; None: this machine's own."""
        return None if self.time_zone == LOCAL else ZoneInfo(self.time_zone)

    def end_of(self, day: date) -> datetime | None:
        """The instant that day ends at in the house's time zone; None where it has not ended."""
        if day >= self.as_of():
            return None
        following = datetime.combine(max(day, EARLIEST) + timedelta(days=1), time.min)
        if self.time_zone != LOCAL:
            following = following.replace(tzinfo=ZoneInfo(self.time_zone))
        return following.astimezone(UTC)

    def changed(self, **values: Any) -> Self:
        """The same settings with some replaced; the values are taken as right."""
        return self.model_copy(update=values)


NAMES = tuple(Settings.model_fields)


def read_settings(**options: Any) -> Settings:
    """The settings in force. Options that are None were not given."""
    given = {name: value for name, value in options.items() if value is not None}
    _refuse_unknown_names(os.environ)
    in_environment = {name.upper() for name, value in os.environ.items() if value}
    file = os.environ.get(FILE) or None
    in_file = _read_file(Path(file)) if file else {}
    first = {name: v for name, v in in_file.items() if PREFIX + name.upper() not in in_environment}
    try:
        return Settings(**{**first, **given})
    except ValidationError as error:
        raise BadSetting([_said(fault, given, file) for fault in error.errors()]) from None


def describe() -> list[tuple[str, str, str, str]]:
    """(name in the environment, default, what it does, what is allowed) for every setting, in order."""
    rows = []
    for name, field in Settings.model_fields.items():
        default = "one core fewer than there are" if name == "solver_processes" else _shown(field.default)
        rows.append((PREFIX + name.upper(), default, field.description or "", _allowed(name)))
    what = "a TOML file with any of these names, without the prefix, in small letters"
    rows.append((FILE, "none", what, "the path of a file"))
    return rows


def _shown(value: Any) -> str:
    return "none" if value is None else str(value)


def _allowed(name: str) -> str:
    extra = Settings.model_fields[name].json_schema_extra
    assert isinstance(extra, dict)
    return str(extra["allowed"])


def without_password(text: str) -> str:
    """A database address as it may be printed.

    >>> without_password("postgresql://head:rosebud@db/house")
    'postgresql://head:***@db/house'
    """
    return re.sub(r"(://[^:/@\s]*):[^@\s]*@", r"\1:***@", text)


def _said(fault: Any, given: Mapping[str, Any], file: str | None) -> str:
    name = str(fault["loc"][0])
    if name in given:
        where = OPTIONS.get(name) or "--" + name.replace("_", "-")
    elif PREFIX + name.upper() in {key.upper() for key in os.environ}:
        where = PREFIX + name.upper()
    else:
        where = f"{name} in {file}"
    return f"{where} is {without_password(str(fault['input']))!r}; allowed is {_allowed(name)}"


def _near(name: str, known: list[str]) -> str:
    close = difflib.get_close_matches(name, known, n=1, cutoff=0.0)
    return f"the nearest is {close[0]}"


def _refuse_unknown_names(environment: Mapping[str, str]) -> None:
    known = [PREFIX + name.upper() for name in NAMES] + [FILE]
    unknown = sorted(n for n in environment if n.upper().startswith(PREFIX) and n.upper() not in known)
    if unknown:
        raise BadSetting([f"{n} is not a setting; {_near(n.upper(), known)}" for n in unknown])


def _read_file(path: Path) -> dict[str, Any]:
    try:
        values = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise BadSetting(
            [f"{FILE} is {str(path)!r}, which cannot be read: {error.strerror or error}"]
        ) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadSetting([f"{path} is not a TOML file: {error}"]) from None
    unknown = [name for name in values if name not in NAMES]
    if unknown:
        raise BadSetting([f"{n} in {path} is not a setting; {_near(n, list(NAMES))}" for n in unknown])
    return values
