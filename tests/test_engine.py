"""The engine's one name changes with everything that a result depends on, and with nothing else."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import ebbline
from ebbline import engine

pytestmark = pytest.mark.slow

PACKAGE = Path(ebbline.__file__).parent
WITHOUT_CODE = {"ebbline", "ebbline.exchange", "ebbline.engine"}


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    """A copy of the package that a test may change."""
    return shutil.copytree(
        PACKAGE, tmp_path / "ebbline", ignore=shutil.ignore_patterns("__pycache__")
    )


def run(code: str, package: Path = PACKAGE) -> str:
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "PYTHONPATH": str(package.parent)},
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.strip()


def engine_of(package: Path) -> str:
    return run("from ebbline.engine import engine_id; print(engine_id())", package)


def test_the_same_code_elsewhere_has_the_same_name(tree: Path) -> None:
    assert engine_of(tree) == engine.engine_id()
    assert engine.engine_id().startswith(f"ebbline {ebbline.__version__} core ")


def test_moving_a_module_changes_the_name(tree: Path) -> None:
    before = engine_of(tree)
    (tree / "measure/deeper/still").mkdir(parents=True)
    (tree / "measure/geodesy.py").rename(tree / "measure/deeper/still/geodesy.py")
    assert engine_of(tree) != before


def test_a_change_in_any_depth_changes_the_name(tree: Path) -> None:
    seen = {engine_of(tree)}
    for name in ("records.py", "measure/track/kalman_smoother.py", "exchange/view.py"):
        path = tree / name
        with path.open("a") as file:
            file.write("\n# another thought\n")
        seen.add(engine_of(tree))
    assert len(seen) == 4


def test_what_no_result_depends_on_leaves_the_name(tree: Path) -> None:
    before = engine_of(tree)
    for name in ("web/app.py", "cli/commands.py", "exchange/csv_guess.py", "report/build.py"):
        with (tree / name).open("a") as file:
            file.write("\n# another thought\n")
    run("import compileall, ebbline; compileall.compile_dir(ebbline.__path__[0], quiet=1)", tree)
    assert engine_of(tree) == before


def test_a_change_to_the_comparison_names_comparisons_anew_and_leaves_results(tree: Path) -> None:
    code = "from ebbline.engine import *; print(engine_id(), comparison_engine_id(), sep='|')"
    result, comparison = run(code, tree).split("|")
    with (tree / "compare/tolerance.py").open("a") as file:
        file.write("\n# another thought\n")
    assert comparison.startswith(f"{result} compare ")
    assert run(code, tree).startswith(f"{result}|{result} compare ")
    assert run(code, tree) != f"{result}|{comparison}"


def test_a_part_that_moved_away_is_not_silently_left_out(tree: Path) -> None:
    (tree / "exchange/view.py").rename(tree / "exchange/seen.py")
    with pytest.raises(subprocess.CalledProcessError):
        engine_of(tree)


@pytest.mark.parametrize(
    ("modules", "parts"),
    [
        (
            "ebbline.measure.analysis, ebbline.exchange.view, ebbline.exchange.result_document",
            engine.PARTS,
        ),
        (
            "ebbline.exchange.drives, ebbline.compare.comparison, ebbline.compare.pair, "
            "ebbline.exchange.comparison_document",
            engine.PARTS + engine.COMPARISON_PARTS,
        ),
    ],
)
def test_everything_of_ours_that_is_imported_is_in_the_digest(
    modules: str, parts: tuple[str, ...]
) -> None:
    loaded = run(
        f"import json, sys\nimport {modules}\n"
        "print(json.dumps([name for name in sys.modules if name.split('.')[0] == 'ebbline']))"
    )
    files = {path for path, _ in engine._files(parts)}
    for name in set(json.loads(loaded)) - WITHOUT_CODE:
        path = name.removeprefix("ebbline.").replace(".", "/")
        assert files & {f"{path}.py", f"{path}/__init__.py"}, f"{name} is in no part"
