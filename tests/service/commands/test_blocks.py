"""Calibrating in blocks at the command line, in files and on a cluster."""

from __future__ import annotations

import socket
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from distributed import LocalCluster

from models.learning import cluster


@pytest.fixture
def filled(shell, group) -> str:
    """Return the name of a group that has reports."""
    assert shell.run("import", shell.reports(4), "--group", group).exit_code == 0
    return group


@pytest.fixture
def scheduler(tmp_path: Path) -> Iterator[str]:
    """Yield the address of a scheduler on loopback with one worker."""
    with LocalCluster(
        n_workers=1,
        threads_per_worker=1,
        processes=False,
        host="127.0.0.1",
        protocol="tcp://",
        dashboard_address="127.0.0.1:0",
        local_directory=str(tmp_path),
    ) as workers:
        yield workers.scheduler_address


def test_blocks_in_files_and_on_a_cluster_are_calibrated(shell, filled, scheduler) -> None:
    for chosen in ((), ("--blocks", 4), ("--blocks", 4, "--cluster", scheduler)):
        done = shell.run("calibrate", "--group", filled, *chosen)
        assert done.exit_code == 0, done.output
        assert "rests on" in done.output


def test_a_cluster_needs_blocks_and_a_scheduler(shell, filled, monkeypatch) -> None:
    monkeypatch.setattr(cluster, "_PATIENCE", "200ms")
    assert (
        shell.run("calibrate", "--group", filled, "--cluster", "tcp://127.0.0.1:1").exit_code == 2
    )
    with socket.socket() as nobody:
        nobody.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{nobody.getsockname()[1]}"
        done = shell.run("calibrate", "--group", filled, "--blocks", 4, "--cluster", address)
    assert done.exit_code == 1
    assert f"no Dask scheduler answers at {address}" in done.output


def test_without_dask_the_extra_is_named(shell, filled, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "models.learning.cluster", None)
    done = shell.run(
        "calibrate", "--group", filled, "--blocks", 4, "--cluster", "tcp://127.0.0.1:1"
    )
    assert done.exit_code == 1
    assert "pip install 'heeldepth[cluster]'" in done.output
