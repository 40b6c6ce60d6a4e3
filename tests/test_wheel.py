"""What is installed works without the checkout: pages, samples and migrations travel with it."""

from __future__ import annotations

import json
import subprocess
import sys
import urllib.request
import zipfile
from pathlib import Path

from patience import LONGEST_S
from server_process import LiveServer, new_server

from ebbline.web import modules

ROOT = Path(__file__).parents[1]
ASK = """
import json
import ebbline
from ebbline.cli import places
definition, files = places.campaign_samples()
paths = [*places.samples(), definition, *files]
print(json.dumps([ebbline.__file__, [str(path) for path in paths]]))
"""


def test_the_wheel_serves_its_own_pages_and_samples(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", tmp_path / "dist"],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    (wheel,) = (tmp_path / "dist").glob("*.whl")
    site = tmp_path / "site"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)

    server: LiveServer = new_server(tmp_path / "server")
    server.environment["PYTHONPATH"] = str(site)
    asked = subprocess.run(
        [sys.executable, "-c", ASK],
        env=server.environment,
        cwd=tmp_path,
        check=True,
        capture_output=True,
    )
    package, samples = json.loads(asked.stdout)
    assert Path(package).is_relative_to(site)
    below = site / "ebbline" / "sample_sessions"
    found = {Path(path).relative_to(below).as_posix() for path in samples}
    folder = ROOT / "sample_sessions"
    in_checkout = {path.relative_to(folder).as_posix() for path in folder.rglob("*.ebbline.*")} | {
        "campaign/campaign.json"
    }
    assert found == in_checkout
    assert all(Path(path).is_file() for path in samples)

    server.start()
    try:
        for page in ("index.html", "capture/index.html", "desk/index.html"):
            with urllib.request.urlopen(f"{server.url}/{page}", timeout=LONGEST_S) as answer:
                assert answer.read() == (site / "ebbline" / "pwa" / page).read_bytes()
        with urllib.request.urlopen(f"{server.url}/sw.js", timeout=LONGEST_S) as answer:
            line, _, worker = answer.read().partition(b"\n")
        written = (site / "ebbline" / "pwa" / "sw.js").read_text("utf-8")
        assert worker.decode() == modules.undocumented(written)
        copy = json.loads(line.removeprefix(b"self.COPY = ").removesuffix(b";"))
        for path in (copy["page"], *copy["files"]):
            with urllib.request.urlopen(f"{server.url}{path}", timeout=LONGEST_S) as answer:
                assert answer.read(), path
        with urllib.request.urlopen(f"{server.url}/api/sessions", timeout=LONGEST_S) as answer:
            assert json.load(answer) == {"sessions": [], "total": 0, "behind": 0}
    finally:
        server.stop()
