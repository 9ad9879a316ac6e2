"""Work that is given out to other processes, some of which the system stops."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent))
from cluster_apart import cluster
from helpers import HOUSE

from conserve.cli.audit_work import stamp_of
from conserve.cli.parser import own_version
from conserve.cli.reading import Refused
from conserve.cli.spreading import in_processes, on_cluster

RULES = HOUSE / "rules"
ALIKE = (str(RULES), stamp_of(RULES), own_version())


def falls(number: int) -> str:
    """Work that one job in nine does not come back from."""
    if number == 4:
        os.kill(os.getpid(), signal.SIGKILL)
    return f"{number} done"


def not_done(number: int, reason: str) -> str:
    return f"{number} not: {reason.partition(';')[0].partition(':')[0]}"


def expected(reason: str) -> list[str]:
    return sorted([f"4 not: {reason}", *(f"{number} done" for number in range(9) if number != 4)])


def test_a_process_that_the_system_stops_takes_no_other_work_with_it():
    found = sorted(in_processes(2, falls, range(9), not_done))
    assert found == expected("The system stopped the process that did it")


def test_a_worker_that_the_system_stops_takes_no_other_work_with_it(tmp_path, monkeypatch):
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parent))  # the workers import this module by its name
    with cluster(tmp_path) as address:
        found = sorted(on_cluster(address, falls, range(9), not_done, ALIKE))
    assert found == expected("The cluster did not finish it")


@pytest.mark.parametrize(
    ("alike", "says"),
    [((ALIKE[0], "0", ALIKE[2]), "has other rules"), ((*ALIKE[:2], "0"), "has version")],
)
def test_workers_that_have_other_rules_or_another_version_are_refused(alike, says, tmp_path):
    with cluster(tmp_path) as address, pytest.raises(Refused, match=says):
        list(on_cluster(address, falls, range(3), not_done, alike))
