"""A PostgreSQL server of the test session's own, where the machine has the programs for one."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from pathlib import Path

import pytest


def _programs() -> Path | None:
    on_path = shutil.which("initdb")
    found = [Path(on_path).parent] if on_path else sorted(Path("/usr/lib/postgresql").glob("*/bin"))
    return next((folder for folder in reversed(found) if (folder / "pg_ctl").exists()), None)


@pytest.fixture(scope="session")
def postgres_server():
    """URL of a running server's own database cluster, up to the database's name."""
    pytest.importorskip("psycopg", reason="the extra 'postgres' is not installed")
    programs = _programs()
    if programs is None:
        pytest.skip("no PostgreSQL server on this machine (Debian package postgresql)")
    as_user = []
    folder = Path(tempfile.mkdtemp(prefix="ledger-pg-", dir="/tmp"))
    if os.geteuid() == 0:  # the server refuses to run as root
        try:
            owner = pwd.getpwnam("postgres")
        except KeyError:
            pytest.skip("a PostgreSQL server can't run as root, and there is no user 'postgres'")
        os.chown(folder, owner.pw_uid, owner.pw_gid)
        as_user = ["runuser", "-u", "postgres", "--"]
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]

    def run(*command: str) -> None:
        subprocess.run([*as_user, *command], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.STDOUT, cwd="/")

    data = folder / "data"
    run(str(programs / "initdb"), "-D", str(data), "-U", "bench", "-A", "trust", "--no-sync")
    settings = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={folder}"
    run(str(programs / "pg_ctl"), "-D", str(data), "-o", settings, "-l", str(folder / "log"), "-w", "start")
    yield f"postgresql://bench@127.0.0.1:{port}/"
    run(str(programs / "pg_ctl"), "-D", str(data), "-m", "immediate", "stop")
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def postgres(postgres_server, request):
    """URL of an empty database."""
    import psycopg

    name = f"t{abs(hash(request.node.name)) % 10**9}"
    with psycopg.connect(f"{postgres_server}postgres", autocommit=True) as connection:
        connection.execute(f"DROP DATABASE IF EXISTS {name}")
        connection.execute(f"CREATE DATABASE {name}")
    return f"{postgres_server}{name}"


@pytest.fixture(params=["sqlite", "postgres"])
def place(request, tmp_path):
    """A ledger's place in each kind of database."""
    return str(tmp_path / "ledger.sqlite3") if request.param == "sqlite" else request.getfixturevalue("postgres")
