"""Which process of ``pytest -n`` runs what."""

from __future__ import annotations

from xdist.scheduler import LoadFileScheduling
from xdist.workermanage import WorkerController


class OneByOneInBrowsers(LoadFileScheduling):
    """A file's tests go to one process, for what it has worked out serves them all; those with a
    browser go to whichever is free, for they share what every process has anyway, all but those of
    a class, which share a page.
    """

    def _split_scope(self, nodeid: str) -> str:
        if not nodeid.startswith("tests/browser/"):
            return super()._split_scope(nodeid)
        return "::".join(nodeid.split("::")[:2])

    def remove_node(self, node: WorkerController) -> str | None:
        """Give out anew what a crashed process had left, all but the test that it crashed in, which
        is returned to fail. The inherited one gives out all it ever had, the crash included; who
        gets of that what is done already has no test to report, and is never given any more.
        """
        had = self.assigned_work.pop(node)
        left = {scope: [one for one, done in had[scope].items() if not done] for scope in had}
        crashed_in = next((tests.pop(0) for tests in left.values() if tests), None)
        self.workqueue.update(
            {scope: dict.fromkeys(tests, False) for scope, tests in left.items() if tests}
        )
        if crashed_in is not None:
            for other in self.assigned_work:
                if other in self.registered_collections:  # else it asks once it has them
                    self._reschedule(other)
        return crashed_in
