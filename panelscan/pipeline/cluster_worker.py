"""On a worker of a cluster: each page is read in a child process, with a time limit.

A cluster ends no task that hangs, and a decoder that crashes would take the whole worker with
it. So a worker hands each page to a `PagePool` of its own, whose processes start when there
is work for them; a page that dies or runs over its time costs its process alone.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from contextlib import contextmanager
from typing import Any

from panelscan.pipeline.pool import PagePool

_pools: dict[float, PagePool] = {}
_lock = threading.Lock()


class ClusterExecutor(Executor):
    """Hands calls to a cluster, to be run there by `guarded_call`.

    Parameters
    ----------
    executor : Executor
        The cluster's own.
    time_limit_s : float
        A call that runs longer is given up.
    """

    def __init__(self, executor: Executor, time_limit_s: float) -> None:
        self._executor = executor
        self.time_limit_s = time_limit_s

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Queue a call; function and arguments must be picklable."""
        return self._executor.submit(guarded_call, self.time_limit_s, fn, args, kwargs)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Finish the queue, or drop it."""
        self._executor.shutdown(wait=wait, cancel_futures=cancel_futures)


def guarded_call(
    time_limit_s: float, fn: Callable[..., Any], args: tuple[Any, ...], kwargs: dict[str, Any]
) -> Any:
    """A call's result, from a child process of this one.

    Raises
    ------
    WorkerLost
        If the child died, or ran over its time.
    """
    with _lock:
        if time_limit_s not in _pools:
            _pools[time_limit_s] = PagePool(None, time_limit_s, children=children_allowed)
    return _pools[time_limit_s].submit(fn, *args, **kwargs).result()


@contextmanager
def children_allowed() -> Iterator[None]:
    """Let a worker that is marked as a daemon start a child.

    Python forbids it lest children be left behind; those of a `PagePool` end with their
    parent, whatever ends it.
    """
    import multiprocessing

    marks = multiprocessing.current_process()._config  # type: ignore[attr-defined]
    before = marks.get("daemon")
    marks["daemon"] = False
    try:
        yield
    finally:
        marks["daemon"] = before
