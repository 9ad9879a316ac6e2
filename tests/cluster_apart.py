"""A Dask cluster in a process of its own: the real scheduler and two worker processes, far from any casebook.

Run alone, it says its address, and ends when its standard input does.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def cluster(elsewhere: Path) -> Iterator[str]:
    """The address of such a cluster, whose workers stand in another folder."""
    command = [sys.executable, "-W", "ignore", str(Path(__file__).absolute())]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.DEVNULL}
    with subprocess.Popen(command, cwd=elsewhere, text=True, **pipes) as running:
        try:
            yield running.stdout.readline().strip()
        finally:
            running.stdin.close()


if __name__ == "__main__":
    from distributed import LocalCluster

    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as started:
        print(started.scheduler_address, flush=True)
        sys.stdin.read()
