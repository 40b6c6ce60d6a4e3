"""Axe's rules of accessibility, tried on a page as it stands."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
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


def assert_accessible(page: Page, within: str = "html", contrast_only: bool = False) -> None:
    """No rule is broken in a part of the page. Where all rules were tried in one theme, another
    can only break that of contrast.
    """
    page.evaluate(MARK_REPEATED)
    where = {"include": [[within]], "exclude": [["[data-repeated]"]]}
    only = {"runOnly": ["color-contrast"]} if contrast_only else {}
    found = Axe().run(page, where, {"resultTypes": ["violations"], **only})
    assert found.violations_count == 0, found.generate_report()
