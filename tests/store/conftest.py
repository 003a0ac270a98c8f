"""A real PostgreSQL server, in a folder of its own, started once."""

import os
import pwd
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psycopg
import pytest

from assistant.office import store


def binaries() -> Path:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    if found:
        return found[-1].parent
    there = shutil.which("initdb")
    if there is None:
        pytest.skip("PostgreSQL is not installed (Debian: apt-get install postgresql)")
    return Path(there).parent


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """The address of the server, less the user."""
    programs = binaries()
    folder = Path(tempfile.mkdtemp(prefix="office-"))
    owner: dict[str, Any] = {}
    if os.geteuid() == 0:  # the server refuses to run as root
        try:
            person = pwd.getpwnam("postgres")
        except KeyError:
            pytest.skip("there is no user postgres to run the server as")
        shutil.chown(folder, person.pw_uid, person.pw_gid)
        owner = {"user": person.pw_uid, "group": person.pw_gid}
    data = folder / "data"
    run = {"check": True, "cwd": folder, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, **owner}
    subprocess.run([programs / "initdb", "-D", data, "-U", "owner", "-A", "trust", "-E", "UTF8", "--no-sync"], **run)
    settings = f"-c listen_addresses= -c unix_socket_directories={folder} -c max_connections=150"
    subprocess.run([programs / "pg_ctl", "-D", data, "-w", "-o", settings, "-l", folder / "log", "start"], **run)
    try:
        yield f"host={folder}"
    finally:
        subprocess.run([programs / "pg_ctl", "-D", data, "-m", "immediate", "stop"], **{**run, "check": False})
        time.sleep(0.1)
        shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def office(server: str) -> Iterator[str]:
    """A fresh office with crews one to three and one who reads all; its address, less the user."""
    name = f"office_{time.monotonic_ns()}"
    with psycopg.connect(f"{server} user=owner dbname=postgres", autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    address = f"{server} dbname={name}"
    with store.connect(f"{address} user=owner") as connection:
        store.prepare(connection)
    with psycopg.connect(f"{address} user=owner", autocommit=True) as connection:
        for role, group in (*((f"crew{n}", "rodside_crew") for n in (1, 2, 3)), ("reader", "rodside_office")):
            exists = connection.execute("SELECT FROM pg_roles WHERE rolname = %s", (role,)).fetchone()
            if exists is None:
                connection.execute(f"CREATE ROLE {role} LOGIN IN ROLE {group}")
    yield address
    with psycopg.connect(f"{server} user=owner dbname=postgres", autocommit=True) as connection:
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")
