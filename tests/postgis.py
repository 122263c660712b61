"""A PostGIS server of the tests' own, from Debian's packages: started once a session in a temporary
folder, reached by a socket there and by no network, and gone with the session.

A test asks for the fixture `postgis` (`tests/conftest.py`) and makes a database of its own:

    def test_it(postgis):
        database = postgis.new_database()
        database.run("create table curb (id serial primary key, geom geometry(LineStringZ, 32632))")
        layer = database.layer("curb", key="id", kind="LineStringZ", srid=32632)

Where the packages are missing the test is skipped, with what to install.
"""

import ctypes
import itertools
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from pathlib import Path

import pytest

PACKAGE = "postgresql-postgis"  # of Debian: the server and PostGIS for it
USER = "curbwright"
LONGEST_START = 30.0  # s
DIES_WITH_PARENT = 1  # PR_SET_PDEATHSIG of prctl(2)


def programs():
    """Folder with `initdb` and `postgres` of the newest server that has PostGIS; None without."""
    found = sorted(
        Path("/usr/share/postgresql").glob("*/extension/postgis.control"),
        key=lambda path: int(path.parts[4]),
    )
    for control in reversed(found):
        folder = Path("/usr/lib/postgresql") / control.parts[4] / "bin"
        if (folder / "postgres").exists():
            return folder
    return None


def unprivileged():
    """Name of the user that the server runs as: it refuses root."""
    return "postgres" if os.getuid() == 0 else pwd.getpwuid(os.getuid()).pw_name


class Server:
    """A server in a folder of its own, with as little safety against a crash as it may have."""

    def __init__(self, bin_folder):
        self.bin, self.numbers = bin_folder, itertools.count(1)
        # short: the path of a socket holds 107 characters
        self.folder = Path(tempfile.mkdtemp(prefix="pg", dir="/tmp"))
        self.user = unprivileged()
        shutil.chown(self.folder, self.user)
        self.folder.chmod(0o755)
        self.process = None

    def start(self):
        data = self.folder / "data"
        self._as_user("initdb", "-D", data, "-A", "trust", "-U", USER, "-E", "UTF8",
                      "--locale=C.UTF-8", "--no-sync", "--no-instructions")  # fmt: skip
        settings = ("listen_addresses=", "fsync=off", "full_page_writes=off", "jit=off",
                    "max_connections=30", "shared_buffers=16MB", "autovacuum=off",
                    "wal_level=minimal", "max_wal_senders=0")  # fmt: skip
        options = [word for setting in settings for word in ("-c", setting)]
        with open(self.folder / "log", "w") as log:
            self.process = subprocess.Popen(
                [self.bin / "postgres", "-D", data, "-k", self.folder, *options],
                stdout=log, stderr=log, cwd="/", user=self._other(),
                # A server whose tests were killed ends as well.
                preexec_fn=lambda: ctypes.CDLL(None).prctl(DIES_WITH_PARENT, signal.SIGINT),
            )  # fmt: skip
        self._wait()
        self.run("create database template_postgis")
        self.run("create extension postgis", "template_postgis")
        return self

    def _other(self):
        """The user as `subprocess` takes it: None where it is this one."""
        return self.user if os.getuid() == 0 else None

    def _as_user(self, program, *arguments):
        done = subprocess.run(
            [self.bin / program, *map(str, arguments)],
            capture_output=True, text=True, cwd="/", user=self._other(),
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr

    def _wait(self):
        end = time.monotonic() + LONGEST_START
        ready = [self.bin / "pg_isready", "-q", "-h", self.folder, "-U", USER, "-d", "postgres"]
        while subprocess.run(ready).returncode != 0:
            if self.process.poll() is not None or time.monotonic() > end:
                raise RuntimeError((self.folder / "log").read_text())
            time.sleep(0.05)

    def stop(self):
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGQUIT)  # at once: nothing of it is needed
            self.process.wait(timeout=LONGEST_START)
        shutil.rmtree(self.folder, ignore_errors=True)

    def run(self, sql, database="postgres"):
        """Rows of a statement, each a tuple of text."""
        done = subprocess.run(
            [self.bin / "psql", "-X", "-q", "-A", "-t", "-F", "\t", "-v", "ON_ERROR_STOP=1",
             "-h", self.folder, "-U", USER, "-d", database, "-c", sql],
            capture_output=True, text=True,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return [tuple(line.split("\t")) for line in done.stdout.splitlines()]

    def new_database(self):
        """A database with PostGIS that no other test knows."""
        name = f"town{next(self.numbers)}"
        self.run(f"create database {name} template template_postgis strategy file_copy")
        return Database(self, name)


class Database:
    """A database of the server."""

    def __init__(self, server, name):
        self.server, self.name = server, name

    def run(self, sql):
        """Rows of a statement, each a tuple of text."""
        return self.server.run(sql, self.name)

    def uri(self, table, key="id", kind="LineString", srid=32632, geometry="geom", subset=""):
        """Source of a layer, for QGIS's provider `postgres`."""
        from qgis.core import QgsDataSourceUri, QgsWkbTypes

        uri = QgsDataSourceUri()
        uri.setConnection(str(self.server.folder), "5432", self.name, USER, "")
        uri.setDataSource("public", table, geometry if kind else None, subset, key)
        if kind:
            uri.setWkbType(QgsWkbTypes.parseType(kind))
            uri.setSrid(str(srid))
        return uri.uri(False)

    def layer(self, table, **about):
        """The layer of a table; `about` as in `uri`."""
        from qgis.core import QgsVectorLayer

        layer = QgsVectorLayer(self.uri(table, **about), table, "postgres")
        assert layer.isValid(), layer.error().message()
        return layer

    def lose_connections(self):
        """End every connection to this database, as a network that fails does: how many."""
        return len(
            self.server.run(
                "select pg_terminate_backend(pid) from pg_stat_activity"
                f" where datname = '{self.name}' and pid <> pg_backend_pid()"
            )
        )


@pytest.fixture(scope="session")
def postgis():
    """A running server."""
    folder = programs()
    if folder is None:
        pytest.skip(f"no PostGIS here: apt install {PACKAGE}")
    server = Server(folder)
    try:
        yield server.start()
    finally:
        server.stop()
