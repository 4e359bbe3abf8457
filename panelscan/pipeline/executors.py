"""Where pages are read: in worker processes, in this process, or on a Dask cluster.

All three have the interface of `concurrent.futures.Executor`.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from contextlib import contextmanager
from typing import Any

from panelscan.errors import UsageError
from panelscan.pipeline.cluster_worker import ClusterExecutor
from panelscan.pipeline.options import ScanOptions
from panelscan.pipeline.pool import PagePool


class SerialExecutor(Executor):
    """Runs each call at once, in this process; a crash or a hang is not held off."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Run the call and return its finished future."""
        future: Future[Any] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as error:  # as an executor does: the future carries it
            future.set_exception(error)
        return future


@contextmanager
def open_executor(options: ScanOptions) -> Iterator[Executor]:
    """Executor that the options ask for; closed, with its work dropped, on an error.

    Raises
    ------
    UsageError
        If a cluster is asked for and the package for it is missing or it does not answer.
    """
    if options.cluster:
        with _cluster(options) as executor:
            yield executor
        return
    executor = (
        SerialExecutor() if options.workers == 0 else PagePool(options.workers, options.page_time_s)
    )
    try:
        yield executor
    except BaseException:
        executor.shutdown(wait=True, cancel_futures=True)
        raise
    executor.shutdown(wait=True)


@contextmanager
def _cluster(options: ScanOptions) -> Iterator[Executor]:
    try:
        distributed: Any = importlib.import_module("distributed")
    except ImportError as error:
        raise UsageError(
            "A cluster needs the package distributed.", "pip install 'panelscan[cluster]'"
        ) from error
    own = None
    try:
        if options.cluster == "local":
            own = distributed.LocalCluster(
                n_workers=options.workers or None, threads_per_worker=1, dashboard_address=None
            )
        client = distributed.Client(own or options.cluster, timeout="20s")
    except (OSError, ValueError, TimeoutError) as error:
        raise UsageError(
            f"The cluster {options.cluster} does not answer ({error}).", "Check its address."
        ) from error
    try:
        client.register_worker_callbacks(_prepare_cluster_worker)
        # pure=False: the same page given twice is two tasks. Tasks of a worker that is lost
        # are run again elsewhere by the cluster itself.
        yield ClusterExecutor(client.get_executor(pure=False), options.page_time_s)
    finally:
        client.close()
        if own is not None:
            own.close()


def _prepare_cluster_worker(dask_worker: Any = None) -> None:
    import cv2

    cv2.setNumThreads(1)
