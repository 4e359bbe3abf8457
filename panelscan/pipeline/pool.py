"""Worker processes that may die or hang without taking the scan with them.

`PagePool` has the interface of `concurrent.futures.Executor`. The standard process pool
gives up all work when one process dies and cannot end a single one that hangs; here each
worker has its own pipe, so that a death or a hang costs only the page in hand.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from multiprocessing.connection import Connection, wait
from typing import Any

from panelscan.errors import PanelscanError

_START_S = 180.0
# Windows waits for at most 64 things at once, and each worker is two of them.
_MOST_WORKERS = 30 if sys.platform == "win32" else 1024
_MOST_FAILED_STARTS = 3
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
# A worker that asks for more gets a MemoryError, which names its page, instead of waking
# the system's out-of-memory killer, which may pick any process.
_MEMORY_SHARE, _LEAST_MEMORY, _MOST_MEMORY = 0.75, 4 << 30, 12 << 30


class WorkerLost(PanelscanError):
    """A worker died or was ended while it had a page in hand."""

    exit_code = 3


@dataclass
class _Task:
    future: Future[Any]
    call: tuple[Callable[..., Any], tuple[Any, ...], dict[str, Any]]
    tries: int = 0


@dataclass
class _Worker:
    process: Any
    pipe: Connection
    deadline: float
    task: _Task | None = None
    is_ready: bool = False


@dataclass
class _State:
    """What the manager thread and the callers share, under one lock."""

    waiting: deque[_Task] = field(default_factory=deque)
    is_closing: bool = False
    lock: threading.Lock = field(default_factory=threading.Lock)


class PagePool(Executor):
    """Processes started afresh (spawn), one task at a time each, with a time limit.

    Parameters
    ----------
    workers : int or None
        Number of processes; None for one per core.
    time_limit_s : float
        A task that runs longer is ended together with its process.
    children : callable
        Gives what a process is started within.

    Notes
    -----
    A task's exception arrives in its future. A process that dies, or runs over its time,
    gives `WorkerLost`; one killed from outside (as when memory ran out) gets a second try.
    """

    def __init__(
        self,
        workers: int | None = None,
        time_limit_s: float = 120.0,
        children: Callable[[], AbstractContextManager[None]] = contextlib.nullcontext,
    ) -> None:
        self.workers = min(workers or available_cores(), _MOST_WORKERS)
        self.time_limit_s = time_limit_s
        self._children = children
        self._context = multiprocessing.get_context("spawn")
        self._state = _State()
        self._wake_read, self._wake_write = self._context.Pipe(duplex=False)
        self._crew: list[_Worker] = []
        self._failed_starts = 0
        self._manager = threading.Thread(target=self._manage, daemon=True, name="page-pool")
        self._manager.start()

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """Queue a call; function and arguments must be picklable."""
        future: Future[Any] = Future()
        with self._state.lock:
            if self._state.is_closing:
                raise RuntimeError("the pool is closed")
            self._state.waiting.append(_Task(future, (fn, args, kwargs)))
        self._wake()
        return future

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Finish the queue (or drop it) and end all processes."""
        with self._state.lock:
            self._state.is_closing = True
            dropped = list(self._state.waiting) if cancel_futures else []
            if cancel_futures:
                self._state.waiting.clear()
        for task in dropped:
            if task.future.cancel():
                task.future.set_running_or_notify_cancel()  # else nobody waiting is told
        if cancel_futures:
            for worker in list(self._crew):
                worker.process.kill()
        self._wake()
        if wait:
            self._manager.join()

    def _wake(self) -> None:
        with contextlib.suppress(OSError):
            self._wake_write.send_bytes(b"w")

    # The manager thread ---------------------------------------------------------------

    def _manage(self) -> None:
        while True:
            self._hand_out()
            with self._state.lock:
                done = self._state.is_closing and not self._state.waiting
            if done and not any(worker.task for worker in self._crew):
                break
            self._listen()
        for worker in self._crew:
            self._dismiss(worker)
        self._wake_read.close()

    def _hand_out(self) -> None:
        """Give waiting tasks to idle workers; start workers while there is work for them."""
        for worker in self._crew:
            if worker.is_ready and worker.task is None and (task := self._next_task()):
                self._send(worker, task)
        starting = sum(not worker.is_ready for worker in self._crew)
        with self._state.lock:
            wanted = len(self._state.waiting) - starting
        while wanted > 0 and len(self._crew) < self.workers:
            self._crew.append(self._start())
            wanted -= 1

    def _next_task(self) -> _Task | None:
        with self._state.lock:
            while self._state.waiting:
                task = self._state.waiting.popleft()
                if task.tries or task.future.set_running_or_notify_cancel():
                    return task
        return None

    def _send(self, worker: _Worker, task: _Task) -> None:
        task.tries += 1
        worker.task = task
        worker.deadline = time.monotonic() + self.time_limit_s
        try:
            worker.pipe.send(task.call)
        except (OSError, ValueError):
            return  # the process is gone: its sentinel tells, and the task is judged there
        except Exception as error:  # what cannot be pickled is the caller's fault
            worker.task = None
            task.future.set_exception(error)

    def _start(self) -> _Worker:
        near, far = self._context.Pipe()
        process = self._context.Process(target=_serve, args=(far,), daemon=True)
        with _one_thread_each(), self._children():
            process.start()
        far.close()
        return _Worker(process, near, time.monotonic() + _START_S)

    def _listen(self) -> None:
        """Wait for an answer, a death, a wake-up or the next deadline."""
        running = [w for w in self._crew if w.task or not w.is_ready]
        soonest = min((w.deadline for w in running), default=time.monotonic() + 3600)
        things: list[Any] = [self._wake_read]
        things += [w.pipe for w in self._crew] + [w.process.sentinel for w in self._crew]
        ready = wait(things, max(0.0, soonest - time.monotonic()))
        if self._wake_read in ready:
            self._wake_read.recv_bytes()
        for worker in list(self._crew):
            if worker.pipe in ready or worker.process.sentinel in ready:
                self._hear(worker)
            elif (worker.task or not worker.is_ready) and time.monotonic() >= worker.deadline:
                self._give_up(worker)

    def _hear(self, worker: _Worker) -> None:
        try:
            if not worker.pipe.poll():
                raise EOFError
            good, answer = worker.pipe.recv()
        except Exception as error:  # a torn message can raise nearly anything
            self._bury(worker, error)
            return
        if not worker.is_ready:
            worker.is_ready, self._failed_starts = True, 0
            return
        task, worker.task = worker.task, None
        if task is None:
            return
        if good:
            task.future.set_result(answer)
        else:
            task.future.set_exception(answer)

    def _bury(self, worker: _Worker, error: Exception) -> None:
        """A process died: its task fails, or is tried once more if it was killed from outside."""
        self._crew.remove(worker)
        worker.process.join(5)
        code = worker.process.exitcode
        self._dismiss(worker)
        task = worker.task
        if task is None:
            self._count_failed_start(worker)
            return
        with self._state.lock:
            closing = self._state.is_closing
        if code == -getattr(signal, "SIGKILL", 9) and task.tries < 2 and not closing:
            with self._state.lock:
                self._state.waiting.append(task)
            return
        task.future.set_exception(_lost(code, error))

    def _count_failed_start(self, worker: _Worker) -> None:
        if worker.is_ready:
            return
        self._failed_starts += 1
        if self._failed_starts < _MOST_FAILED_STARTS:
            return
        with self._state.lock:
            waiting, self._state.waiting = list(self._state.waiting), deque()
        self._failed_starts = 0
        for task in waiting:
            if task.tries or task.future.set_running_or_notify_cancel():
                task.future.set_exception(
                    WorkerLost(
                        "Worker processes cannot be started.", "Scan with one worker: --workers 0."
                    )
                )

    def _give_up(self, worker: _Worker) -> None:
        self._crew.remove(worker)
        self._dismiss(worker)
        if worker.task is None:
            self._count_failed_start(worker)
            return
        worker.task.future.set_exception(
            WorkerLost(
                f"it took longer than {self.time_limit_s:g} s and was given up.",
                "Save the file anew, or allow more time.",
            )
        )

    def _dismiss(self, worker: _Worker) -> None:
        with contextlib.suppress(OSError, ValueError):
            worker.pipe.close()
        if worker.process.is_alive():
            worker.process.kill()
        worker.process.join(10)


def _lost(code: int | None, error: Exception) -> WorkerLost:
    if code is None or code == 0:
        reason = f"reading it broke off ({type(error).__name__})"
    elif code < 0:
        reason = f"reading it crashed ({_signal_name(-code)})"
    else:
        reason = f"reading it ended its process (code {code})"
    return WorkerLost(f"{reason}.", "The file may be damaged: save it anew.")


def _signal_name(number: int) -> str:
    try:
        return signal.Signals(number).name
    except ValueError:
        return f"signal {number}"


def available_cores() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return max(1, len(os.sched_getaffinity(0)))
    return os.cpu_count() or 1


@contextlib.contextmanager
def _one_thread_each() -> Iterator[None]:
    """Start a process whose number libraries use one thread: pages are the parallel work."""
    before = {name: os.environ.get(name) for name in _ONE_THREAD}
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


# In the worker ------------------------------------------------------------------------


def _serve(pipe: Connection) -> None:
    """Answer calls until the pipe closes."""
    prepare_worker()
    with contextlib.suppress(EOFError, OSError, KeyboardInterrupt):
        pipe.send((True, "ready"))
        while True:
            fn, args, kwargs = pipe.recv()
            try:
                answer = (True, fn(*args, **kwargs))
            except Exception as error:  # whatever it is, the parent is to know
                answer = (False, _sendable(error))
            try:
                pipe.send(answer)
            except (TypeError, AttributeError, ValueError) as error:
                pipe.send((False, _sendable(error)))


def _sendable(error: Exception) -> Exception:
    import pickle

    try:
        pickle.loads(pickle.dumps(error))  # noqa: S301 - our own exception, just made
    except Exception:  # some exceptions cannot be rebuilt from their arguments
        return RuntimeError(f"{type(error).__name__}: {error}")
    return error


def prepare_worker() -> None:
    """Set a fresh process up: quiet, one thread, bounded memory, gone when its parent is."""
    with contextlib.suppress(ValueError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_leave_with_parent, daemon=True).start()
    _bound_memory()
    import cv2

    cv2.setNumThreads(1)
    with contextlib.suppress(AttributeError):
        cv2.utils.logging.setLogLevel(cv2.utils.logging.LOG_LEVEL_SILENT)
    # Decoders written in C print to the error stream; answers travel through the pipe.
    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, 2)
    os.close(null)


def _leave_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def _bound_memory() -> None:
    try:
        import resource

        physical = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
        most = int(min(_MOST_MEMORY, max(_LEAST_MEMORY, physical * _MEMORY_SHARE)))
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
    except (ImportError, ValueError, OSError, AttributeError):
        return  # no such limit on this system
