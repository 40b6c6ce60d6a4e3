"""Whatever a test starts ends with it: database, servers and browsers, however pytest ended."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from patience import LONGEST_S, wait_for

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
PYTEST = (sys.executable, "-m", "pytest", "-p", "xdist", "-p", "no:cacheprovider")
HELD_OPEN = "tests/browser/held_open.py"
ALONE = {"PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"}  # the others take seconds to load
PROGRAMS = ("postgres", "serve --port", "--headless", "run-driver", "--remote-debugging-port")


def _heeds_ctrl_c() -> None:
    """What a shell starts in the background ignores it, and so would all that this starts."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.fixture
def up(tmp_path: Path) -> Iterator[Callable[..., subprocess.Popen[bytes]]]:
    """Starts a pytest of its own that has everything open, and waits until it has."""
    started: list[subprocess.Popen[bytes]] = []

    def start(*options: str) -> subprocess.Popen[bytes]:
        sign, log = tmp_path / "up", tmp_path / "log"
        with log.open("wb") as output:
            process = subprocess.Popen(
                [*PYTEST, HELD_OPEN, f"--basetemp={tmp_path / 'its'}", *options],
                cwd=ROOT,
                env={**os.environ, **ALONE, "EBBLINE_TEST_UP": str(sign)},
                stdout=output,
                stderr=output,
                preexec_fn=_heeds_ctrl_c,
            )
        started.append(process)

        def is_up() -> bool:
            assert process.poll() is None, log.read_text(errors="replace")
            return sign.exists()

        wait_for("its sign that all is up", is_up)
        return process

    yield start
    for process in started:
        process.kill()
        process.wait()


@pytest.mark.parametrize(
    ("ending", "options"),
    [(signal.SIGINT, ["-n", "1"]), (signal.SIGTERM, []), (signal.SIGKILL, ["-n", "1"])],
    ids=["Ctrl+C, with workers", "SIGTERM", "SIGKILL, with workers"],
)
def test_an_interrupted_run_leaves_nothing_behind(
    up: Callable[..., subprocess.Popen[bytes]], ending: int, options: list[str]
) -> None:
    run = up(*options)
    before = descendants(run.pid)
    for program in PROGRAMS:
        assert any(program in command for command in before.values()), program
    run.send_signal(ending)
    run.wait(LONGEST_S)

    def left() -> list[str]:
        return [command for pid, (_, command) in processes().items() if before.get(pid) == command]

    wait_for(lambda: f"the end of {left()}", lambda: not left(), lambda: time.sleep(0.2))
    database = next(command for command in before.values() if "-D" in command)
    found = re.search(r"/\S*ebb-pg-[^/\s]+", database)
    assert found
    assert not Path(found[0]).exists()


def processes() -> dict[int, tuple[int, str]]:
    """Parent and command of every process that still runs, by its id."""
    listed = subprocess.run(
        ["ps", "-A", "-ww", "-o", "pid=,ppid=,stat=,args="],
        check=True,
        capture_output=True,
        text=True,
    )
    found = {}
    for line in listed.stdout.splitlines():
        pid, parent, state, *command = line.split(None, 3)
        if not state.startswith("Z"):
            found[int(pid)] = int(parent), " ".join(command)
    return found


def descendants(ancestor: int) -> dict[int, str]:
    """Command by id of a process and of all that it and its children have started."""
    everybody = processes()
    children = defaultdict(list)
    for pid, (parent, _) in everybody.items():
        children[parent].append(pid)
    found = [ancestor]
    for pid in found:
        found += children[pid]
    return {pid: everybody[pid][1] for pid in found}
