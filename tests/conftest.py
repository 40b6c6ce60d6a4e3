"""Databases and servers for tests: all real, all fresh, all gone afterwards."""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from argon2 import PasswordHasher
from database_contents import empty
from hypothesis import HealthCheck, settings
from lifeline import Program
from patience import wait_for
from programs import NO_POSTGRESQL, find_postgresql
from psycopg import sql
from scheduling import OneByOneInBrowsers
from server_process import LiveServer, new_server
from sqlalchemy import Engine
from sqlalchemy.engine import make_url
from sqlalchemy.orm import Session
from xdist.remote import Producer
from xdist.scheduler import Scheduling

from ebbline import store
from ebbline.sessions.access import accounts

# Hypothesis would time each example by the wall clock, and how quickly it can make them. The checks
# of a change look at the same examples each time; for new ones: --hypothesis-profile=searching.
settings.register_profile(
    "any machine", deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)
settings.register_profile(
    "searching", settings.get_profile("any machine"), derandomize=False, max_examples=2000
)
settings.load_profile("any machine")

# --- quick --------------------------------------------------------------------------------

# What only a browser shows, simulates for minutes, or starts processes of its own.
NOT_QUICK = ("browser", "published", "test_coverage_study.py", "test_samples.py", "test_wheel.py",
             "test_cli_serving.py", "test_cli_publish.py", "test_lifeline.py",
             "test_scheduling.py")  # fmt: skip
NEEDS_MORE = {"postgresql_server", "live_server"}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--quick", action="store_true", help="what is told in two minutes")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    slow = {item.path for item in items if item.get_closest_marker("slow")}
    items.sort(key=lambda item: item.path not in slow)  # last, they would be waited for
    if not config.getoption("--quick"):
        return
    chosen = [item for item in items if _is_quick(item)]
    config.hook.pytest_deselected(items=[item for item in items if not _is_quick(item)])
    items[:] = chosen


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    quick = config.getoption("--quick") and collection_path.parent == Path(__file__).parent
    return True if quick and collection_path.name in NOT_QUICK else None


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> Scheduling | None:
    return OneByOneInBrowsers(config, log) if config.getoption("dist") == "loadfile" else None


def _is_quick(item: pytest.Item) -> bool:
    params = getattr(getattr(item, "callspec", None), "params", {}).values()
    of_postgresql = any(isinstance(one, str) and one == "postgresql" for one in params)
    needs_more = NEEDS_MORE & set(getattr(item, "fixturenames", ()))
    return not (of_postgresql or needs_more or item.get_closest_marker("slow"))


# --- passwords ----------------------------------------------------------------------------


@pytest.fixture(scope="session", autouse=True)
def shipped_hasher() -> Iterator[PasswordHasher]:
    """Has this process hash passwords with argon2id at its least cost, a thousandth of what users
    get; answers with the latter.
    """
    shipped = accounts._hasher
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(accounts, "_hasher", PasswordHasher(1, 8, 1))
        yield shipped


# --- PostgreSQL ---------------------------------------------------------------------------


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """URL of a PostgreSQL server where databases may be made: a throw-away one of our own."""
    given = os.environ.get("EBBLINE_TEST_POSTGRES_URL")
    if given:
        yield given
        return
    programs = find_postgresql()
    if programs is None:
        pytest.fail(NO_POSTGRESQL)
    # PostgreSQL refuses to run as root; the package's own account is there for that.
    user = "postgres" if hasattr(os, "geteuid") and os.geteuid() == 0 else ""
    # A short path: the socket's may have about 100 characters.
    folder = Path(tempfile.mkdtemp(prefix="ebb-pg-", dir="/tmp" if os.name == "posix" else None))
    try:
        if user:
            shutil.chown(folder, user)
        initdb = [programs / "initdb", "-D", folder / "data", "-U", "postgres", "-A", "trust"]
        subprocess.run(
            [*initdb, "-E", "UTF8", "--no-locale", "--no-sync"],
            user=user or None,
            check=True,
            capture_output=True,
            cwd=folder,
        )
        settings = {
            "listen_addresses": "",
            "unix_socket_directories": str(folder),
            "fsync": "off",  # the cluster does not outlive the tests
        }
        with (folder / "log").open("wb") as log:
            server = Program(
                [str(programs / "postgres"), "-D", str(folder / "data")]
                + [part for key, value in settings.items() for part in ("-c", f"{key}={value}")],
                user=user,
                remove=folder,
                cwd=folder,
                stdout=log,
                stderr=log,
            )
        try:
            url = f"postgresql://postgres@/postgres?host={folder}"
            _wait_for_postgresql(url, server, folder / "log")
            yield url
        finally:
            server.stop(by=signal.SIGINT)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _wait_for_postgresql(url: str, server: Program, log: Path) -> None:
    def answers() -> bool:
        assert server.poll() is None, log.read_text(errors="replace")[-2000:]
        with contextlib.suppress(psycopg.OperationalError):
            psycopg.connect(url).close()
            return True
        return False

    wait_for(lambda: f"PostgreSQL: {log.read_text(errors='replace')[-2000:]}", answers)


@pytest.fixture
def postgresql_url(postgresql_server: str) -> Iterator[str]:
    """A fresh PostgreSQL database."""
    with _postgresql_database(postgresql_server) as url:
        yield url


@contextlib.contextmanager
def _postgresql_database(server: str) -> Iterator[str]:
    name = f"ebbline_test_{uuid.uuid4().hex}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        yield make_url(server).set(database=name).render_as_string(False)
        connection.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


# --- both databases -----------------------------------------------------------------------


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    """A fresh SQLite file, not made yet."""
    return f"sqlite:///{tmp_path / 'ebbline.sqlite3'}"


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest) -> str:
    """A fresh database without tables, once of each kind."""
    url: str = request.getfixturevalue(f"{request.param}_url")
    return url


@pytest.fixture(scope="session")
def sqlite_engine(tmp_path_factory: pytest.TempPathFactory) -> Engine:
    file = tmp_path_factory.mktemp("database") / "ebbline.sqlite3"
    return store.open_engine(f"sqlite:///{file}")


@pytest.fixture(scope="session")
def postgresql_engine(postgresql_server: str) -> Iterator[Engine]:
    with _postgresql_database(postgresql_server) as url:
        yield store.open_engine(url)


@pytest.fixture(params=["sqlite", "postgresql"])
def engine(request: pytest.FixtureRequest) -> Iterator[Engine]:
    """A database with our tables and nothing in them, once of each kind; migrated once."""
    engine: Engine = request.getfixturevalue(f"{request.param}_engine")
    empty(engine)
    yield engine
    engine.dispose()


@pytest.fixture
def db_session(engine: Engine) -> Iterator[Session]:
    with Session(engine) as session:
        yield session


# --- a server -----------------------------------------------------------------------------


@pytest.fixture(scope="session")
def lasting_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    """``ebbline serve`` on a free port of loopback, for one test after the other."""
    server = new_server(tmp_path_factory.mktemp("lasting") / "server")
    server.start()
    yield server
    server.stop()


@pytest.fixture
def live_server(lasting_server: LiveServer) -> LiveServer:
    """The same process for every test that asks one, with nothing in its database."""
    lasting_server.renew()
    return lasting_server
