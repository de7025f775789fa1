"""Workbooks that strangers made to hurt, sent to a real server. All rows are invented."""

from __future__ import annotations

import http.client
import io
import json
import os
import time
import zipfile
from pathlib import Path
from threading import Event, Thread
from typing import Any

import pytest
from openpyxl import Workbook

from service.uploads import XLSX
from tests.service.commands.test_processes import free_port, healthy

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHEET = "xl/worksheets/sheet1.xml"
MOST_S = 1.0
OWN_S = 0.2
"""Taking a request, keeping a job and answering; reading it cost 3.8 and 18 s before."""

pytestmark = [
    pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="Linux tells of processes"),
    pytest.mark.only_on("sqlite"),
]


def book(rows: str) -> bytes:
    """Return a workbook whose sheet has these rows."""
    made, whole, out = Workbook(), io.BytesIO(), io.BytesIO()
    made.save(whole)
    needed = ("[Content_Types].xml", "_rels/.rels", "xl/workbook.xml", "xl/_rels/workbook.xml.rels")
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in needed:
            new.writestr(name, old.read(name))
        new.writestr(SHEET, f'<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData></worksheet>')
    return out.getvalue()


HOSTILE = {
    "a huge row number": book('<row r="1"/><row r="999999999"><c r="A1"><v>1</v></c></row>'),
    "wide empty rows": book('<row><c r="CV1"/></row>' * 150_000),
    "one far cell": book('<row><c r="A1"><v>1</v></c><c r="XFD1048576"><v>1</v></c></row>'),
}


class Server:
    """A server in a process of its own, with the token of a group's steward."""

    def __init__(self, shell: Any, started: Any) -> None:
        said = shell.run("group", "create", "Invented group").stdout
        self._token = next(word for word in said.split() if word.startswith("heeldepth_"))
        self._port = free_port()
        self.process = started(shell.start("serve", HEELDEPTH_PORT=str(self._port)))
        healthy(self._port, self.process)
        self.group = f"/v1/groups/{self.asked('GET', '/v1/groups')[1]['items'][0]['id']}"

    def asked(self, method: str, path: str, body: bytes | None = None, **more: str) -> Any:
        """Return status and body of an answer."""
        connection = http.client.HTTPConnection("127.0.0.1", self._port, timeout=60)
        headers = {"Authorization": f"Bearer {self._token}", "Content-Type": XLSX, **more}
        connection.request(method, path, body, headers)
        answer = connection.getresponse()
        told = json.loads(answer.read())
        connection.close()
        return answer.status, told

    def job(self, asked: dict[str, Any]) -> dict[str, Any]:
        """Return a job once it has ended."""
        while (job := self.asked("GET", f"{self.group}/jobs/{asked['id']}")[1])["ended_at"] is None:
            time.sleep(0.05)
        return job

    def seconds(self) -> tuple[float, float]:
        """Return the CPU time of the server's own process, and of those that it waited for."""
        stat = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        own, children = (sum(map(int, stat[n : n + 2])) for n in (11, 13))
        return own / os.sysconf("SC_CLK_TCK"), children / os.sysconf("SC_CLK_TCK")


@pytest.fixture
def server(shell: Any, started: Any) -> Server:
    made = Server(shell, started)
    made.asked("POST", f"{made.group}/imports?dry_run=true", book(""))  # what is loaded once is
    made.asked("POST", f"{made.group}/imports", b"reporter\nx", **{"Content-Type": "text/csv"})
    return made


@pytest.mark.parametrize("content", HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_workbook_costs_the_server_nothing_and_others_are_answered(
    server: Server, content: bytes
) -> None:
    assert len(content) < 20_000
    slowest, over = [0.0], Event()

    def others() -> None:
        while not over.wait(0.02):
            began = time.monotonic()
            assert server.asked("GET", "/healthz")[0] == 200
            slowest[0] = max(slowest[0], time.monotonic() - began)

    asking = Thread(target=others)
    asking.start()
    own_before, children_before = server.seconds()
    try:
        status, told = server.asked("POST", f"{server.group}/imports", content)
    finally:
        over.set()
        asking.join()
    own, children = server.seconds()
    assert status in (202, 422)
    assert children - children_before < MOST_S
    assert own - own_before < OWN_S
    assert slowest[0] < 1
    if status == 202:
        job = server.job(told)
        assert (job["state"], job["problem"]["status"]) == ("failed", 422)
        told = job["problem"]
    assert {fault["pointer"] for fault in told["errors"]} <= {"/file", "/heading"}


def test_a_workbook_that_ends_what_reads_it_is_refused_in_plain_words(server: Server) -> None:
    design = json.dumps({"name": "Invented"}).encode()
    made = server.asked(
        "POST", f"{server.group}/designs", design, **{"Content-Type": "application/json"}
    )
    path = f"{server.group}/designs/{made[1]['id']}/size-table"
    status, told = server.asked("POST", path, HOSTILE["one far cell"])
    assert status == 422
    [fault] = told["errors"]
    assert "delete empty rows and columns" in fault["detail"]
    assert "save it as CSV" in fault["detail"]
