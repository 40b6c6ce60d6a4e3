"""A process of tests that crashes ends neither the others' work nor is it waited for."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from patience import LONGEST_S

CONFTEST = """
from scheduling import OneByOneInBrowsers

def pytest_xdist_make_scheduler(config, log):
    return OneByOneInBrowsers(config, log)
"""
TESTS = """
import os, signal

def test_one(): pass
def test_two(): pass
def test_crash(): os.kill(os.getpid(), signal.SIGKILL)
def test_three(): pass

class TestTogether:
    def test_crash(self): os.kill(os.getpid(), signal.SIGKILL)
    def test_four(self): pass
"""


def test_a_process_that_crashes_fails_its_test_alone(tmp_path: Path) -> None:
    folder = tmp_path / "tests" / "browser"
    folder.mkdir(parents=True)
    (tmp_path / "conftest.py").write_text(CONFTEST)
    (tmp_path / "pytest.ini").write_text("[pytest]\n")
    (folder / "test_some.py").write_text(TESTS)
    run = subprocess.run(
        [sys.executable, "-m", "pytest", "-p", "xdist", "-n", "2", "--dist", "loadfile"],
        cwd=tmp_path,
        env={
            **os.environ,
            "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1",
            "PYTHONPATH": str(Path(__file__).parent),
        },
        timeout=LONGEST_S,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 1, run.stdout
    assert "2 failed, 4 passed" in run.stdout
    failed = [line for line in run.stdout.splitlines() if line.startswith("FAILED")]
    assert [line.split()[1].rpartition("::")[2] for line in failed] == ["test_crash"] * 2
