"""Programs that end with whoever started them, however that ended: by SIGKILL too.

Each is started through this file, run as a script, which waits for it as its parent and holds the
reading end of a pipe. The writing end is the starter's alone, so the system closes it when the
starter is gone, and then the program is stopped, with all that it has started in turn.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import threading
import weakref
from pathlib import Path
from typing import Any

STOPS_WITHIN_S = 60.0  # when asked to; after that nobody asks
ENDS_WITHIN_S = 2.0  # when nobody is left who could wait for it

_PASSED_ON = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)


class Program(subprocess.Popen[bytes]):
    """A program in a process group of its own; signals sent to this object reach it."""

    def __init__(
        self, command: list[str], user: str = "", remove: Path | None = None, **options: Any
    ) -> None:
        """Start it, with the options of ``subprocess.Popen``.

        ``user`` is the account it runs as; the folder ``remove`` goes when it has ended.
        """
        ours_to_read, ours_to_hold = os.pipe()
        told, telling = os.pipe()
        told_to_it = [str(ours_to_read), str(telling), user, str(remove or "")]
        try:
            super().__init__(
                [sys.executable, "-I", "-S", __file__, *told_to_it, *command],
                pass_fds=(ours_to_read, telling),
                start_new_session=True,  # Ctrl+C is the starter's to pass on
                **options,
            )
        except BaseException:
            os.close(ours_to_hold)
            raise
        finally:
            os.close(ours_to_read)
            os.close(telling)
        weakref.finalize(self, os.close, ours_to_hold)
        with os.fdopen(told) as line:
            self.group = int(line.read())

    def stop(self, by: int = signal.SIGTERM) -> None:
        """Ask it to stop, wait until it has, and end what hasn't by then."""
        if self.poll() is None:
            self.send_signal(by)
            try:
                self.wait(STOPS_WITHIN_S)
            except subprocess.TimeoutExpired:
                self.end()

    def end(self) -> None:
        """End every process of it at once, as a power cut would."""
        self.signal_all(signal.SIGKILL)
        self.wait()

    def signal_all(self, number: int) -> None:
        """Send a signal to every process of it."""
        if self.poll() is None:
            os.killpg(self.group, number)


def _watch(pipe: int, telling: int, user: str, remove: str, command: list[str]) -> int:
    """Run the command until it ends or the pipe does; gives the command's exit status."""
    for end in (pipe, telling):
        os.set_inheritable(end, False)
    program = os.fork()
    if program == 0:
        _become(user, command)
    with contextlib.suppress(PermissionError):  # it has done so itself, and more
        os.setpgid(program, program)
    for number in _PASSED_ON:
        signal.signal(number, lambda number, _: os.kill(program, number))
    with os.fdopen(telling, "w") as line:
        line.write(str(program))
    ended = threading.Event()

    def wait_for_the_end_of_the_pipe() -> None:
        os.read(pipe, 1)
        os.killpg(program, signal.SIGCONT)
        os.kill(program, signal.SIGTERM)
        if not ended.wait(ENDS_WITHIN_S):
            os.killpg(program, signal.SIGKILL)

    threading.Thread(target=wait_for_the_end_of_the_pipe, daemon=True).start()
    status = os.waitstatus_to_exitcode(os.waitpid(program, 0)[1])
    ended.set()
    with contextlib.suppress(ProcessLookupError, PermissionError):  # nobody left, or nothing alive
        os.killpg(program, signal.SIGKILL)
    if remove:
        shutil.rmtree(remove, ignore_errors=True)
    return status if status >= 0 else 128 - status


def _become(user: str, command: list[str]) -> None:
    """Never returns."""
    try:
        os.setpgid(0, 0)
        if user:
            import pwd

            account = pwd.getpwnam(user)
            os.initgroups(user, account.pw_gid)
            os.setgid(account.pw_gid)
            os.setuid(account.pw_uid)
        os.execvp(command[0], command)
    except (OSError, KeyError) as error:
        print(f"{command[0]}: {error}", file=sys.stderr, flush=True)
    os._exit(127)


if __name__ == "__main__":
    _, _pipe, _telling, _user, _folder, *_command = sys.argv
    sys.exit(_watch(int(_pipe), int(_telling), _user, _folder, _command))
