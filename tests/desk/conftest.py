"""A PostgreSQL of the tests' own, on loopback; where there is none the tests that want it say so."""

from __future__ import annotations

import itertools
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest


def _user() -> dict[str, Any]:
    """Return how a process is started that is not root, which PostgreSQL refuses."""
    if sys.platform == "win32" or os.geteuid() != 0:
        return {}
    import pwd

    for name in ("postgres", "nobody"):
        try:
            found = pwd.getpwnam(name)
        except KeyError:
            continue
        return {"user": found.pw_uid, "group": found.pw_gid, "extra_groups": []}
    pytest.skip("PostgreSQL refuses root, and there is nobody else to run it")


def _free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """Return how to connect to an empty database."""
    for name in ("initdb", "postgres"):
        if shutil.which(name) is None:
            pytest.skip(f"PostgreSQL is not installed here: there is no {name}")
    user = _user()
    folder = Path(tempfile.mkdtemp(prefix="desk-database-"))
    if user:
        os.chown(folder, user["user"], user["group"])
    options: dict[str, Any] = user | {"cwd": folder, "stdin": subprocess.DEVNULL}
    data, port = folder / "data", _free_port()
    log = (folder / "log").open("wb")
    made = [str(shutil.which("initdb")), "-D", str(data), "-U", "desk", "-A", "trust", "--no-sync"]
    subprocess.run([*made, "-E", "UTF8", "--locale=C"], check=True, stdout=log, stderr=log, **options)
    settings = {
        "listen_addresses": "127.0.0.1", "port": port, "unix_socket_directories": "", "fsync": "off",
        "shared_buffers": "32MB",
    }  # fmt: skip
    given = [part for name, value in settings.items() for part in ("-c", f"{name}={value}")]
    server = subprocess.Popen(
        [str(shutil.which("postgres")), "-D", str(data), *given], stdout=log, stderr=log, **options
    )
    try:
        yield _answering(f"postgresql://desk@127.0.0.1:{port}/postgres", server)
    finally:
        server.terminate()
        server.wait(30)
        log.close()
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def database(postgres: str) -> str:
    """Return how to connect to a database that nobody has used."""
    import psycopg

    name = f"desk_{next(_NUMBERS)}"
    with psycopg.connect(postgres, autocommit=True) as opened:
        opened.execute(f"CREATE DATABASE {name}")  # our own name
    return postgres.rpartition("/")[0] + f"/{name}"


_NUMBERS = itertools.count()


def _answering(connection: str, server: subprocess.Popen[bytes]) -> str:
    import psycopg

    for _ in range(300):
        if server.poll() is not None:
            pytest.skip(f"PostgreSQL ended at once with {server.returncode}")
        try:
            psycopg.connect(connection).close()
        except psycopg.OperationalError:
            time.sleep(0.1)
        else:
            return connection
    pytest.skip("PostgreSQL did not answer in half a minute")
