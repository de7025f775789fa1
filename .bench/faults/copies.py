"""Copies of a database, one at a time."""

from __future__ import annotations

import shutil
from pathlib import Path
from types import TracebackType
from uuid import uuid4

from sqlalchemy import make_url

from faults.databases import execute


class Copies:
    """An empty database beside another, to be filled, and copies of it."""

    def __init__(self, url: str, folder: Path) -> None:
        self._beside = make_url(url)
        self._folder = folder
        self._names: list[str] = []
        self._sqlite = self._beside.get_backend_name() == "sqlite"

    def __enter__(self) -> Copies:
        self.original = self._made()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        while self._names:
            self._drop()

    def fresh(self) -> str:
        """Return the URL of a new copy; the one before is gone."""
        if len(self._names) > 1:
            self._drop()
        return self._made(self._names[0])

    def _made(self, template: str = "") -> str:
        name = f"copy_{uuid4().hex}"
        if not self._sqlite:
            self._execute(f"CREATE DATABASE {name} TEMPLATE {template or 'template0'}")
            url = self._beside.set(database=name)
        else:
            url = self._beside.set(database=str(self._folder / f"{name}.db"))
            if template:
                shutil.copyfile(self._folder / f"{template}.db", str(url.database))
        self._names.append(name)
        return url.render_as_string(hide_password=False)

    def _drop(self) -> None:
        name = self._names.pop()
        if not self._sqlite:
            self._execute(f"DROP DATABASE {name} WITH (FORCE)")
        for file in self._folder.glob(f"{name}*"):
            file.unlink()

    def _execute(self, statement: str) -> None:
        execute(self._beside.render_as_string(hide_password=False), statement)
