"""Every module of the core is held by a test of its own, not by whole analyses alone."""

import re
from pathlib import Path

from ebbline import measure

CORE = Path(measure.__file__).parent
TESTS = Path(__file__).parents[1]
IMPORT = re.compile(r"^from (ebbline\.measure[\w.]*) import ([\w, ]+|\([^)]*\))", re.MULTILINE)


def modules() -> set[str]:
    """Of the core, those with code of their own."""
    paths = (path for path in CORE.rglob("*.py") if path.name != "__init__.py")
    return {
        ".".join(("ebbline.measure", *path.relative_to(CORE).with_suffix("").parts))
        for path in paths
    }


def imported() -> set[str]:
    """What tests import of the core by name; whether they hold it is for a reader to say."""
    sources = (path.read_text(encoding="utf-8") for path in TESTS.rglob("test_*.py"))
    return {
        name
        for source in sources
        for module, names in IMPORT.findall(source)
        for name in (module, *(f"{module}.{one}" for one in re.findall(r"\w+", names)))
    }


def test_each_module_of_the_core_is_imported_by_a_test() -> None:
    assert len(modules()) > 60
    assert modules() - imported() == set()
