"""One browser and one server for all tests: Debian's Chromium, driven by Playwright."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from shutil import copyfile
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, sync_playwright
from sqlalchemy import select

from models.tables.engine import Database
from models.tables.jobs import Job
from models.tables.people import Member
from seed_demo import design, people
from seed_demo.client import Client
from seed_demo.people import QUESTION
from seed_demo.server import HOST, running
from service.config import Settings
from service.pages.kept import COOKIE, Kept

CHROMIUM = shutil.which("chromium")

USERNAME = "marsh.tit"
PASSWORD = "four invented quiet words"  # noqa: S105 - of somebody who does not exist

Opening = Callable[..., Page]


@dataclass(frozen=True)
class Group:
    """A group, seen by its steward."""

    id: str
    steward: Client
    suggestion: str
    report: str
    work: str

    def address(self, path: str) -> str:
        """Return a path in which GROUP, SUGGESTION, REPORT and WORK stand for ids."""
        named = {
            "GROUP": self.id,
            "SUGGESTION": self.suggestion,
            "REPORT": self.report,
            "WORK": self.work,
        }
        for name, found in named.items():
            path = path.replace(name, found)
        return path


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
def database_of_pages(migrated_file: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Return the URL of the database that the service has."""
    file = tmp_path_factory.mktemp("pages") / "heeldepth.db"
    copyfile(migrated_file, file)
    return f"sqlite:///{file}"


@pytest.fixture(scope="package")
def address(database_of_pages: str) -> Iterator[str]:
    """Yield where the service listens."""
    with running(Settings(database_of_pages)) as port:
        yield f"http://{HOST}:{port}"


@pytest.fixture(scope="package")
def group(address: str, database_of_pages: str) -> Iterator[Group]:
    """Yield an invented group on that service, whose steward has a username."""
    with Client(HOST, urlsplit(address).port or 0) as steward:
        name = "Invented kingfisher knitters of the lower meadow"
        body = {"name": name, "steward": "Marsh Tit", "consent_version": 3}
        founded = steward.post("/v1/groups", body)
        steward.token = founded["token"]
        steward.post("/v1/accounts", {"username": USERNAME, "password": PASSWORD})
        path = f"/v1/groups/{founded['id']}"
        work = _work(database_of_pages, founded["id"])
        yield Group(founded["id"], steward, *_asked_and_told(steward, path), work)


def _asked_and_told(steward: Client, path: str) -> tuple[str, str]:
    """Return the ids of a suggestion and of a sock that followed another one."""
    told = steward.post(f"{path}/suggestions", {**QUESTION, "personal": True})
    other = steward.post(f"{path}/suggestions", QUESTION)
    sock = {name: value for name, value in QUESTION.items() if name in other["schedule"]}
    counts = {name: n for name, n in other["schedule"].items() if name.endswith("_rounds")}
    seen = {"fit_score": -1, "slides_down": 1, "times_washed": 3, "notes": "Invented.\nTwo lines."}
    body = {**sock, **counts, "yarn_weight": 1, "suggestion_id": other["id"], **seen}
    return told["id"], steward.post(f"{path}/reports", body)["id"]


@pytest.fixture(scope="package")
def learned(group: Group) -> dict[str, str]:
    """Return ids of a second group of that steward, which has learned from the demo's reports.

    Keys are the words that stand for them in paths.
    """
    steward = group.steward
    made = steward.post(
        "/v1/groups",
        {"name": "Invented dipper group", "steward": "Marsh Tit", "consent_version": 3},
    )
    path = f"/v1/groups/{made['id']}"
    for number, report in enumerate(people.reports()):
        own = number % 40 == 0
        steward.post(
            f"{path}/reports", {k: v for k, v in report.items() if not own or k != "reporter"}
        )
    first = steward.post(f"{path}/calibrations", {})
    second = steward.post(f"{path}/calibrations", {})
    designed = steward.post(f"{path}/designs", {"name": design.NAME})
    for size in design.sizes():
        kept = steward.post(f"{path}/designs/{designed['id']}/sizes", size)
    held = steward.get(f"{path}/reports?limit=1")["items"][0]
    steward.post(f"{path}/reports/{held['id']}/reviews", {"status": "held", "from": "counted"})
    steward.post(f"{path}/invitations", {})
    return {
        "LEARNED": made["id"],
        "CARD": second["id"],
        "EARLIER": first["id"],
        "DESIGN": designed["id"],
        "SIZE": kept["id"],
    }


def _work(url: str, group_id: str) -> str:
    """Return the id of work of the steward's that goes on and on: nobody works on it."""
    database = Database(url)
    with database.write.begin() as session:
        member_id = session.scalars(
            select(Member.id).where(Member.group_id == group_id, Member.person_id.is_not(None))
        ).one()
        later = datetime.now(UTC) + timedelta(days=1)
        own = {"group_id": group_id, "member_id": member_id, "kind": "calibration", "asked": {}}
        job = Job(**own, scopes="read", state="running", done=1, total=3, heard_at=later)
        session.add(job)
        session.flush()
        job_id = str(job.id)
    database.close()
    return job_id


@pytest.fixture(scope="package")
def state_of_login(chromium: Browser, address: str, group: Group) -> Any:
    """Return the cookies of a browser in which the steward has logged in on the page for it."""
    with chromium.new_context(base_url=address) as context:
        page = context.new_page()
        page.goto("/login")
        log_in(page)
        page.wait_for_url("**/groups")
        return context.storage_state()


def log_in(page: Page) -> None:
    """Fill in the login page that is shown, and send it."""
    page.get_by_label("Username").fill(USERNAME)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()


@pytest.fixture
def opening(chromium: Browser, address: str, request: pytest.FixtureRequest) -> Iterator[Opening]:
    """Yield a function that opens a page in a browser without a past, or with some entries.

    With `logged_in` it is the steward's, and `GROUP` in the path stands for the id of her group,
    `LEARNED` for that of the one that has learned.
    Whatever the browser complains about, above all its content security policy, fails the test.
    """
    with ExitStack() as stack:

        def opened(
            path: str, kept: Kept | None = None, *, logged_in: bool = False, **options: Any
        ) -> Page:
            if logged_in:
                options["storage_state"] = request.getfixturevalue("state_of_login")
                path = request.getfixturevalue("group").address(path)
            if "LEARNED" in path:
                for word, found in request.getfixturevalue("learned").items():
                    path = path.replace(word, found)
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
