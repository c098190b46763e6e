"""A real chromium against a live server."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    Page,
    expect,
    sync_playwright,
)

from workshop.models import Person

ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PASSWORD = "plain-river-2291"

# A busy machine takes longer to answer; a page that never does still fails.
expect.set_options(timeout=20_000)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=ARGUMENTS
        )
        yield browser
        browser.close()


@pytest.fixture
def open_page(chromium: Browser, live_server) -> Iterator[Callable[..., Page]]:
    """Open a page in a browser of its own, signed in as a person."""
    contexts: list[BrowserContext] = []

    def opener(
        person: Person | None = None, width: int = 1440, height: int = 900
    ) -> Page:
        context = chromium.new_context(
            base_url=live_server.url, viewport={"width": width, "height": height}
        )
        contexts.append(context)
        page = context.new_page()
        if person is not None:
            person.set_password(PASSWORD)
            person.save()
            page.goto("/sign-in/")
            page.fill("[name=username]", person.username)
            page.fill("[name=password]", PASSWORD)
            page.click("main button")
            page.wait_for_url("**/")
        return page

    yield opener
    for context in contexts:
        context.close()
