"""A PostgreSQL server of its own for a measurement, with a database for each account; gone when it is over, or kept."""

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

_OPTIONS = (
    "-c listen_addresses='' -c fsync=off -c max_connections=40 -c max_wal_size=4GB -c shared_buffers=512MB"
    " -c wal_level=minimal -c max_wal_senders=0"
)


@contextmanager
def postgresql(folder: Path) -> Iterator[Path]:
    """The server whose data is in ``folder`` runs for the length of the block; gives back where its socket is."""
    bins = sorted(Path("/usr/lib/postgresql").glob("*/bin"))[-1]
    folder.mkdir(parents=True, exist_ok=True)
    as_user: list[str] = []
    if os.geteuid() == 0:
        shutil.chown(folder, "postgres", "postgres")
        as_user = ["runuser", "-u", "postgres", "--"]

    def run(program: str, *arguments: str, check: bool = True) -> None:
        subprocess.run([*as_user, f"{bins}/{program}", *arguments], check=check, capture_output=True, cwd=folder)

    data = folder / "data"
    if not data.exists():
        run("initdb", "-D", str(data), "-A", "trust", "-U", "potmark", "--no-sync", "-E", "UTF8")
    # Without waiting for the server's own log, which would keep the pipe of a captured run open.
    run("pg_ctl", "-D", str(data), "-w", "-l", f"{folder}/log", "-o", f"-k {folder} {_OPTIONS}", "start")
    try:
        yield folder
    finally:
        run("pg_ctl", "-D", str(data), "-m", "fast", "stop")


def create_database(folder: Path, name: str) -> str:
    """The address of a database on that server, which is made if it is not there yet."""
    bins = sorted(Path("/usr/lib/postgresql").glob("*/bin"))[-1]
    subprocess.run([f"{bins}/createdb", "-h", str(folder), "-U", "potmark", name], check=False, capture_output=True)
    return f"postgresql://potmark@/{name}?host={folder}"
