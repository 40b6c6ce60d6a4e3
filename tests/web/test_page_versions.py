"""A page's parts and its version come from the files: what is served is what the imports reach."""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Collection
from pathlib import Path, PurePosixPath

import pytest
from flask.testing import FlaskClient
from pygments.lexer import Lexer
from pygments.lexers.css import CssLexer
from pygments.lexers.javascript import JavascriptLexer
from pygments.token import Token

from ebbline.web import modules, pwa
from ebbline.web.joining import joined
from ebbline.web.pages import HTML, Pages, offline_copy, served_file
from ebbline.web.pwa import DESK_PAGES

VERSION = r"/version/[0-9a-f]{12}"
# Read otherwise than the server does: every quoted relative path outside of comments.
COMMENT = re.compile(r"/\*.*?\*/|^\s*//[^\n]*", re.DOTALL | re.MULTILINE)
STATEMENT = re.compile(r'^(?:import|export)[\s\w$*{},]*"[^"]+";|^export \{.*\};', re.MULTILINE)
QUOTED_PATH = re.compile(r'"(\.\.?/[^"]+\.js)"')


def needed(*entries: str, aside: Collection[str] = ()) -> set[str]:
    """Modules that these and theirs name anywhere in their code, some of them left aside."""
    found = set(entries)
    waiting = list(entries)
    while waiting:
        path = waiting.pop()
        text = COMMENT.sub("", (pwa.folder() / path).read_text())
        for name in QUOTED_PATH.findall(text):
            target = os.path.normpath(PurePosixPath(path).parent / name)
            if target not in found and target not in aside:
                found.add(target)
                waiting.append(target)
    return found


def scripts(html: str) -> list[str]:
    return re.findall(r'<script type="module" src="/([^"]+)"', html)


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    """The pages in a folder where they may change."""
    return Path(shutil.copytree(pwa.folder(), tmp_path / "pwa"))


# --- which files ------------------------------------------------------------------------------


@pytest.mark.parametrize("name", HTML)
def test_a_page_has_what_its_html_names_and_what_its_scripts_need(name: str) -> None:
    html = (pwa.folder() / HTML[name]).read_text()
    named = {
        path
        for path in re.findall(r'(?:href|src)="/([^"]+)"', html)
        if (pwa.folder() / path).is_file()
    }
    assert named
    assert set(Pages(pwa.folder()).page(name).files) == {HTML[name]} | named | needed(
        *scripts(html)
    )


def test_the_worker_keeps_the_page_and_all_that_it_takes_in(client: FlaskClient) -> None:
    page = Pages(pwa.folder()).page("capture")
    line, _, rest = client.get("/sw.js").text.partition("\n")
    assert rest == modules.undocumented((pwa.folder() / "sw.js").read_text())
    copy = json.loads(line.removeprefix("self.COPY = ").removesuffix(";"))
    assert copy["version"] == page.version
    addresses = [copy["page"], *copy["files"]]
    kept = [address.removeprefix(f"/version/{page.version}").lstrip("/") for address in addresses]
    asked = {path for path in page.files if not path.endswith(".js")}
    assert sorted(kept) == sorted(asked | {"capture/early.js", "capture/main.js"})
    for address, name in zip(addresses, kept, strict=True):
        with client.get(address) as answer:
            assert answer.status_code == 200
            if not name.endswith((".js", ".css", ".html")):
                assert answer.data == page.files[name]


def test_no_module_of_the_phone_is_without_use() -> None:
    lying = {
        path.relative_to(pwa.folder()).as_posix()
        for ending in ("*.js", "*.css")
        for path in (pwa.folder() / "capture").rglob(ending)
    }
    assert lying - set(Pages(pwa.folder()).page("capture").files) == set()


@pytest.mark.parametrize(
    ("path", "own"),
    [
        ("/capture", None),
        ("/desk", "desk/session-list.js"),
        ("/desk?session=1", "desk/session-page.js"),
        ("/desk?campaign=1", "desk/campaign-page.js"),
        ("/desk?campaigns", "desk/campaigns-page.js"),
        ("/desk?compare=1", "desk/pair-page.js"),
        ("/follow", None),
        ("/join", None),
        ("/sign-in", None),
    ],
)
def test_every_module_is_asked_for_at_once(client: FlaskClient, path: str, own: str | None) -> None:
    """So that a start does not wait for one file to learn of the next.

    ``own``: which of the desk's pages it is; what only the others need is not asked for.
    """
    head = client.get(path).text.partition("</head>")[0]
    entries = re.findall(rf'<script type="module" src="{VERSION}/([^"]+)"', head)
    preloaded = re.findall(rf'<link rel="modulepreload" href="{VERSION}/([^"]+)">', head)
    assert entries
    others = {"desk/session-list.js", *DESK_PAGES.values()} - {own}
    apart = (
        needed(*entries, aside=others) - set(entries) if own else set()
    )  # else they are one file
    assert sorted(preloaded) == sorted(apart)


@pytest.mark.parametrize("name", ["capture", "follow", "join", "sign-in"])
def test_modules_sent_as_one_are_all_there_and_name_no_other(
    client: FlaskClient, name: str
) -> None:
    entry = f"{name}/main.js"
    page = Pages(pwa.folder()).page(name)
    with client.get(page.address(entry)) as answer:
        sent = answer.text
    assert not re.search(r"^\s*(?:import|export)\b", sent, re.MULTILINE)
    lines = set(sent.splitlines())
    for path in needed(entry):
        lies = modules.undocumented((pwa.folder() / path).read_text())
        own = STATEMENT.sub("", lies).splitlines()
        assert {re.sub(r"^export ", "", line) for line in own} - lines == set(), path


FORMS = {
    "a/main.js": (
        'import { x, f as g } from "./x.js";\nimport {\n  y,\n} from "../b/y.js";\ng(x, y);\n'
    ),
    "a/x.js": (
        'import * as all from "../b/y.js";\nimport "./z.js";\nconst w = 1;\nexport { w };\n'
        "export const x = all.y;\nexport async function f() {}\nexport class C {}\n"
    ),
    "a/z.js": "globalThis.z = 1;\n",
    "b/y.js": 'export { y } from "./e.js";\nexport * from "./e.js";\n',
    "b/e.js": "export const y = 2;\n",
}


def test_each_module_has_a_scope_of_its_own_and_comes_after_what_it_needs() -> None:
    assert joined("a/main.js", FORMS.__getitem__) == (
        "const $0 = (() => {\nconst y = 2;\n\nreturn { y };\n})();\n"
        "const $1 = (() => {\n\n\n\nreturn { y: $0.y, ...$0 };\n})();\n"
        "const $2 = (() => {\nglobalThis.z = 1;\n\n})();\n"
        "const $3 = (() => {\nconst all = $1;\n\nconst w = 1;\n\nconst x = all.y;\n"
        "async function f() {}\nclass C {}\n\nreturn { w: w, x, f, C };\n})();\n"
        "const { x, f: g } = $3;\nconst {\n  y,\n} = $1;\ng(x, y);\n"
    )


@pytest.mark.parametrize(
    "line", ["export default 1;", "export let a = 1;", 'import d from "./z.js";']
)
def test_a_form_that_cannot_be_joined_is_refused_by_name(line: str) -> None:
    with pytest.raises(ValueError, match=r"a/main\.js: .*"):
        joined("a/main.js", {**FORMS, "a/main.js": f"{line}\n"}.__getitem__)


def test_only_real_imports_count() -> None:
    text = {
        "a/main.js": (
            'import { x } from "./x.js";\n'
            'import {\n  y,\n} from "../b/y.js";\n'
            'import "./z.js";\n'
            'export * from "./e.js";\n'
            '/** @typedef {import("./type.js").T} T */\n'
            'export const text = "./no.js";\n'
            'const late = (await import("./late.js")).late;\n'
        ),
        "a/x.js": 'import { main } from "./main.js";\n',
    }
    read = lambda path: text.get(path, "")  # noqa: E731
    at_once = ("a/main.js", "a/x.js", "b/y.js", "a/z.js", "a/e.js")
    assert modules.reached(["a/main.js"], read) == at_once
    assert modules.reached(["a/main.js"], read, later=True) == (*at_once, "a/late.js")


def code(text: str, lexer: Lexer | None = None) -> list[str]:
    """What is left of a module without comments and blanks, by a lexer that isn't ours."""
    return [
        value
        for kind, value in (lexer or JavascriptLexer()).get_tokens(text)
        if kind not in Token.Comment and value.strip()
    ]


@pytest.mark.slow
def test_modules_are_sent_without_doc_comments_and_nothing_else_is_missing() -> None:
    for file in sorted(pwa.folder().rglob("*.js")):
        lies = file.read_text()
        sent = modules.undocumented(lies)
        assert sent.count("\n") == lies.count("\n"), file
        assert code(sent) == code(lies), file
        assert not re.search(r"^ *\* @param", sent, re.MULTILINE), file


def test_words_and_types_go_and_code_keeps_its_lines() -> None:
    kept = "const a = (b); /** and */\nlet c = 'http://d';\n/* e */\n"
    assert modules.undocumented(kept) == kept
    typed = kept.replace("(b)", "/** @type {A} */ (b)").replace("let", "/** @type {A} */ let")
    typed = typed.replace("';", "';  // d")
    commented = f"/** One. */\n{typed}  /**\n   * Two.\n   */\n  // three\n  end"
    assert modules.undocumented(commented) == f"\n{kept}\n\n\n\nend"


def test_sheets_are_sent_without_words_and_nothing_else_is_missing() -> None:
    for file in sorted(pwa.folder().rglob("*.css")):
        lies = file.read_text()
        sent = modules.undocumented_sheet(lies)
        assert sent.count("\n") == lies.count("\n"), file
        assert code(sent, CssLexer()) == code(lies, CssLexer()), file


def test_a_template_over_several_lines_keeps_its_indentation() -> None:
    kept = "  const a = `b\n    c`;\n"
    assert modules.undocumented(kept) == kept


# --- their version ----------------------------------------------------------------------------


@pytest.mark.slow
def test_one_byte_of_any_file_makes_another_version(copied: Path) -> None:
    pages = Pages(copied)
    seen = {pages.page("capture").version}
    for name in pages.page("capture").files:
        file = copied / name
        file.write_bytes(file.read_bytes() + b"\n")
        version = pages.page("capture").version  # without a restart
        assert version not in seen, name
        seen.add(version)


def test_a_change_of_the_same_length_is_seen(copied: Path) -> None:
    pages = Pages(copied)
    before = pages.page("follow").version
    script = copied / "follow" / "main.js"
    text = script.read_text()
    script.write_text(text.replace("const", "cnost", 1))
    os.utime(script, ns=(0, 0))  # however coarse the file system's clock is
    assert pages.page("follow").version != before


def test_what_the_phone_does_not_take_in_leaves_its_version(copied: Path) -> None:
    pages = Pages(copied)
    before = {name: pages.page(name).version for name in HTML}
    file = copied / "desk" / "session-page.js"
    file.write_bytes(file.read_bytes() + b"\n")
    changed = {name for name in HTML if pages.page(name).version != before[name]}
    assert changed == {"desk"}


def test_the_same_files_are_the_same_version_wherever_they_lie(copied: Path) -> None:
    for file in copied.rglob("*"):
        os.utime(file, (1, 1))
    assert offline_copy(Pages(copied).page("capture")) == offline_copy(
        Pages(pwa.folder()).page("capture")
    )


def test_a_new_module_comes_in_by_its_import_alone(copied: Path) -> None:
    pages = Pages(copied)
    pages.page("capture")
    (copied / "capture" / "page" / "new.js").write_text("export const made = 1;\n")
    dom = copied / "capture" / "page" / "dom.js"
    dom.write_text('import { made } from "./new.js";\n' + dom.read_text())
    page = pages.page("capture")
    assert "capture/page/new.js" in page.files
    assert b"const made = 1;" in served_file(page, "capture/main.js")


# --- below their version's address ------------------------------------------------------------


def test_a_file_of_a_version_may_be_kept_for_good(client: FlaskClient) -> None:
    address = re.findall(rf'src="({VERSION}/capture/main.js)"', client.get("/capture").text)[0]
    with client.get(address) as answer:
        lies = (pwa.folder() / "capture" / "main.js").read_text()
        assert code(answer.text)[-50:] == code(lies)[-50:]  # behind all that it needs
        assert answer.headers["Cache-Control"] == "max-age=31536000, immutable"


def test_another_version_or_another_pages_file_is_not_there(client: FlaskClient) -> None:
    """Or else something would be kept for good under the wrong version."""
    version = Pages(pwa.folder()).page("capture").version
    for path in (
        "/version/0123456789ab/capture/main.js",
        f"/version/{version}/desk/main.js",
        f"/version/{version}/sw.js",
        f"/version/{version}/../pyproject.toml",
    ):
        assert client.get(path).status_code == 404, path


def test_a_page_that_is_open_while_files_change_gets_its_own(copied: Path) -> None:
    pages = Pages(copied)
    old = pages.page("join")
    script = copied / "join" / "main.js"
    script.write_text("// newer\n")
    found = pages.page_of_version(old.version, "join/main.js")
    assert found is not None
    assert found.files["join/main.js"] == (pwa.folder() / "join" / "main.js").read_bytes()
