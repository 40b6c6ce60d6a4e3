"""Axe's rules of accessibility, tried on a page as it stands."""

from __future__ import annotations

from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Page

# Rows, and cells of the others, that differ from one above in their words alone: axe works 10 ms on
# the contrast of each word, and a table of a hundred readings has five hundred.
MARK_REPEATED = """() => {
  const seen = new Set();
  const made = (node) => [node.tagName, node.className, node.type, node.ariaInvalid,
    node.ariaLabel === "", ...node.getAttributeNames(), ...[...node.children].map(made),
    node.children.length === 0 && /\\S/.test(node.textContent), ")"].join();
  const mark = (node, ...where) => {
    node.removeAttribute("data-repeated");
    const look = [...where, made(node)].join();
    node.toggleAttribute("data-repeated", seen.has(look));
    seen.add(look);
  };
  for (const row of document.querySelectorAll("tbody tr")) {
    const table = row.closest("table").className;
    mark(row, table);
    if (row.hasAttribute("data-repeated")) continue;
    for (const cell of row.children) mark(cell, table, row.className, cell.cellIndex);
  }
}"""


RUN = """([where, only]) => axe.run(where, { resultTypes: ["violations"], ...only })
  .then(({ violations }) => violations.map(({ id, nodes }) => [
    id, ...nodes.map(({ html, failureSummary }) => `${html}: ${failureSummary}`)]))"""


def broken_rules(page: Page, within: str = "html", contrast_only: bool = False) -> list[list[str]]:
    """The rules that a part of the page breaks, each with where and how. Where all rules were tried
    in one theme, another can only break that of contrast.
    """
    if page.evaluate("() => typeof axe") == "undefined":
        page.evaluate(AXE_SCRIPT)
    page.evaluate(MARK_REPEATED)
    where = {"include": [[within]], "exclude": [["[data-repeated]"]]}
    only = {"runOnly": ["color-contrast"]} if contrast_only else {}
    found: list[list[str]] = page.evaluate(RUN, [where, only])
    return found


def assert_accessible(page: Page, within: str = "html", contrast_only: bool = False) -> None:
    """No rule is broken in a part of the page."""
    assert broken_rules(page, within, contrast_only) == []
