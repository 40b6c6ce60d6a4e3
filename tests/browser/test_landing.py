"""The page at the server's address, as a phone and a desk show it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from browser.conftest import Phone


@pytest.mark.parametrize("width", [360, 1440])
def test_the_question_reads_as_words_at_any_width(
    new_phone: Callable[..., Phone], width: int
) -> None:
    phone = new_phone(width)
    phone.page.goto(phone.url)
    words = phone.page.locator("h1").inner_text().split()
    assert " ".join(words) == "How far does it go once it says zero?"
