"""One browser and one server for all tests: Debian's Chromium, driven by Playwright."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from shutil import copyfile
from typing import Any

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright

from seed_demo.server import HOST, running
from service.config import Settings
from service.pages.kept import COOKIE, Kept

CHROMIUM = shutil.which("chromium")

Opening = Callable[..., Page]


@pytest.fixture(scope="package")
def chromium() -> Iterator[Browser]:
    """Yield a browser; Playwright's own are never fetched."""
    if CHROMIUM is None:
        pytest.skip("there is no chromium on this machine: apt-get install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--disable-gpu"])
        yield browser
        browser.close()


@pytest.fixture(scope="package")
def address(migrated_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Yield where the service listens."""
    file = tmp_path_factory.mktemp("pages") / "heeldepth.db"
    copyfile(migrated_file, file)
    with running(Settings(f"sqlite:///{file}")) as port:
        yield f"http://{HOST}:{port}"


@pytest.fixture
def opening(chromium: Browser, address: str) -> Iterator[Opening]:
    """Yield a function that opens a page in a browser without a past, or with some entries.

    Whatever the browser complains about, above all its content security policy, fails the test.
    """
    with ExitStack() as stack:

        def opened(path: str, kept: Kept | None = None, **options: Any) -> Page:
            return stack.enter_context(_page(chromium, address, path, kept, options))

        yield opened


@contextmanager
def _page(
    browser: Browser, address: str, path: str, kept: Kept | None, options: dict[str, Any]
) -> Iterator[Page]:
    complaints: list[str] = []
    with browser.new_context(base_url=address, **options) as context:
        context.set_default_timeout(20_000)
        if kept is not None:
            cookie = {"name": COOKIE, "value": kept.dump(), "url": f"{address}/ask"}
            context.add_cookies([cookie])
        page = context.new_page()
        page.on("console", lambda message: complaints.extend(_complaint(message)))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.goto(path)
        yield page
    assert complaints == []


def _complaint(message: ConsoleMessage) -> Iterator[str]:
    """Yield what a browser says is wrong; a page of errors is answered with a status on purpose."""
    expected = "the server responded with a status of 4"
    if message.type in ("error", "warning") and expected not in message.text:
        yield message.text
