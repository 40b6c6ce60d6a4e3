"""Programs that end with whoever started them."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from lifeline import Program
from patience import LONGEST_S, wait_for

TESTS = Path(__file__).parent
STARTER = """
import sys, time
sys.path.insert(0, {tests!r})
from lifeline import Program
command = [sys.executable, "-c", {program!r}]
started = Program(command, remove={folder!r}, stdout=sys.stdout)
time.sleep(600)
"""
# Tells its own id and that of a child; deaf to everything but SIGKILL.
DEAF = """
import os, signal, time
for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
    signal.signal(number, signal.SIG_IGN)
child = os.fork()
if child:
    print(os.getpid(), child, flush=True)
time.sleep(600)
"""


def is_there(pid: int) -> bool:
    state = subprocess.run(
        ["ps", "-o", "stat=", "-p", str(pid)], check=False, capture_output=True, text=True
    ).stdout.strip()
    return bool(state) and not state.startswith("Z")


def wait_until_gone(pids: list[int]) -> None:
    wait_for(f"the end of {pids}", lambda: not any(map(is_there, pids)))


@pytest.mark.parametrize("ending", [signal.SIGTERM, signal.SIGKILL])
@pytest.mark.parametrize("stopped", [False, True])
def test_a_killed_starter_takes_even_what_is_deaf_or_stopped_with_it(
    tmp_path: Path, ending: int, stopped: bool
) -> None:
    folder = tmp_path / "data"
    folder.mkdir()
    told = STARTER.format(tests=str(TESTS), program=DEAF, folder=str(folder))
    with subprocess.Popen(
        [sys.executable, "-c", told], stdout=subprocess.PIPE, text=True
    ) as starter:
        assert starter.stdout is not None
        pids = [int(word) for word in starter.stdout.readline().split()]
        assert len(pids) == 2
        assert all(map(is_there, pids))
        if stopped:
            os.killpg(pids[0], signal.SIGSTOP)
        starter.send_signal(ending)
        starter.wait(LONGEST_S)
        wait_until_gone(pids)
    wait_for("the end of its folder", lambda: not folder.exists())


def test_a_signal_reaches_the_program_and_its_exit_status_comes_back(tmp_path: Path) -> None:
    heard = "import signal, sys, time\nsignal.signal(2, lambda *_: sys.exit(7))\n"
    output = tmp_path / "output"
    with output.open("wb") as log:
        program = Program(
            [sys.executable, "-c", f"{heard}print('up', flush=True)\ntime.sleep(600)"], stdout=log
        )
    wait_for("its first word", lambda: "up" in output.read_text())
    program.stop(by=signal.SIGINT)
    assert program.returncode == 7


def test_what_a_program_leaves_behind_ends_when_it_does(tmp_path: Path) -> None:
    output = tmp_path / "output"
    leaves = "import subprocess; print(subprocess.Popen(['sleep', '600']).pid, flush=True)"
    with output.open("wb") as log:
        program = Program([sys.executable, "-c", leaves], stdout=log)
    assert program.wait(LONGEST_S) == 0
    wait_until_gone([int(output.read_text())])


def test_a_program_that_is_not_there_is_named(capfd: pytest.CaptureFixture[str]) -> None:
    assert Program(["no-such-program"]).wait(LONGEST_S) == 127
    assert "no-such-program" in capfd.readouterr().err


def test_ended_at_once_means_all_of_it(tmp_path: Path) -> None:
    output = tmp_path / "output"
    with output.open("wb") as log:
        program = Program([sys.executable, "-c", DEAF], stdout=log)
    wait_for("both ids", lambda: len(output.read_text().split()) == 2)
    program.end()
    assert program.returncode == 128 + signal.SIGKILL
    wait_until_gone([int(word) for word in output.read_text().split()])
