"""Processes that may die: a hostile picture or work nobody waits for any more costs one of these.

A worker does one thing at a time. It is started ahead of need, so that its imports are done when
the work comes; it is killed when the work takes too long, takes too much, or is not wanted any
more. The page's server itself never decodes a picture and never waits for a search.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import tempfile
import threading
import traceback
from collections.abc import Callable, Iterator
from enum import Enum
from multiprocessing import resource_tracker
from types import GeneratorType
from typing import TYPE_CHECKING, Any, Literal, NoReturn

from ...core.errors import HimotifError

if TYPE_CHECKING:
    from multiprocessing.connection import Connection

Job = Callable[..., Any]

MOST_MEMORY = 3 * 1024**3
"""Address space of a worker: a picture at the limit of pixels fits, a bomb does not."""


OWN_FAULT = "himotif met a fault of its own; what it is stands in the window that started the page."


class Answer(Enum):
    """What a worker sends."""

    PART = "part"
    DONE = "done"
    FAILED = "failed"


class Superseded(Exception):
    """The work was dropped because newer work came."""


class WorkerLost(HimotifError):
    """The worker took too long or died; what it was given was too much for it."""


_SOCKET_BYTES, _SOCKET_NAME = 107, "/pymp-xxxxxxxx/listener-xxxxxxxx"
"""The longest name of a socket on Linux, unix(7), and what `multiprocessing` adds to the temporary
folder's for its own."""


def start_method(temporary: str) -> Literal["forkserver", "spawn"]:
    """Return how workers are started.

    On Linux they are forked from one process that has imported what they need: a new one is there
    at once. That process listens at a socket in the temporary folder, whose name must not be too
    long for it. Elsewhere forking is not safe, or not to be had.
    """
    fits = len(os.fsencode(temporary + _SOCKET_NAME)) <= _SOCKET_BYTES
    return "forkserver" if sys.platform == "linux" and fits else "spawn"


# what contexts have in common has no Process for the type checker
_CONTEXT: Any = multiprocessing.get_context(start_method(tempfile.gettempdir()))
if _CONTEXT.get_start_method() == "forkserver":
    _CONTEXT.set_forkserver_preload([f"{__package__}.ready"])

if sys.platform == "win32":

    def _undisturbed() -> contextlib.AbstractContextManager[None]:
        """No signal can be kept from what is started here."""
        return contextlib.nullcontext()

    def _limit() -> None:
        """No process can limit its own memory here."""

else:
    import resource

    @contextlib.contextmanager
    def _undisturbed() -> Iterator[None]:
        """Keep Ctrl-C from what is started now: it is for the server, which ends its workers."""
        # Python starts a helper with the first worker, and lets Ctrl-C through again when it has
        resource_tracker.ensure_running()
        before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
        try:
            yield
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)

    def _limit() -> None:
        """Take no more memory than we should, where the system can be asked to see to it."""
        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


class Worker:
    """One process; it does one job at a time and can be killed at any time.

    Parameters
    ----------
    get_ready : callable
        Done once, before the first job: imports what the jobs need.
    """

    def __init__(self, get_ready: Callable[[], object]) -> None:
        self._killed = False
        self._ours, theirs = _CONTEXT.Pipe()
        self._process = _CONTEXT.Process(target=serve, args=(theirs, get_ready), daemon=True)
        with _undisturbed():
            self._process.start()
        theirs.close()

    @property
    def alive(self) -> bool:
        """Whether it can take a job."""
        # one that was killed lives on for a moment
        return not self._killed and self._process.is_alive()

    def call(self, job: Job, args: tuple[Any, ...], timeout_s: float) -> Any:
        """Have a job done.

        Raises
        ------
        HimotifError
            What the job raised, or `WorkerLost`.
        """
        self._send(job, args)
        return self._answer(timeout_s)[1]

    def stream(self, job: Job, args: tuple[Any, ...], timeout_s: float) -> Iterator[Any]:
        """Have a job done that is a generator; return what it yields, as it comes.

        Parameters
        ----------
        job : callable
        args : tuple
        timeout_s : float
            For each of its parts.
        """
        self._send(job, args)
        while True:
            kind, value = self._answer(timeout_s)
            if kind is not Answer.PART:
                return
            yield value

    def _send(self, job: Job, args: tuple[Any, ...]) -> None:
        try:
            self._ours.send((job, args))
        except OSError:
            self._lose()

    def _answer(self, timeout_s: float) -> tuple[Answer, Any]:
        try:
            if not self._ours.poll(timeout_s):
                self.kill()
                raise WorkerLost(f"this took longer than {timeout_s:.0f} seconds and was stopped.")
            kind, value = self._ours.recv()
        except (EOFError, OSError):
            self._lose()
        if kind is Answer.FAILED:
            raise value
        return kind, value

    def _lose(self) -> NoReturn:
        self.kill()
        raise WorkerLost("this was too much for the memory it may take.") from None

    def kill(self) -> None:
        """End it at once, whatever it does."""
        self._killed = True
        self._process.kill()


class Workers:
    """Workers of one kind; for every tab of the page only its newest job goes on.

    Parameters
    ----------
    get_ready : callable
        See `Worker`.
    timeout_s : float
        A job that takes longer is stopped; of one that is a generator, each of its parts.
    once : bool
        End each worker after its job: what it was given is not to be trusted.
    most : int, optional
        At most so many work at a time, others wait; as many as there are cores if not given.
    """

    def __init__(
        self,
        get_ready: Callable[[], object],
        timeout_s: float,
        once: bool = False,
        most: int | None = None,
    ) -> None:
        self._get_ready, self._timeout_s, self._once = get_ready, timeout_s, once
        self._most = most or os.cpu_count() or 1
        self._lock = threading.Condition()
        self._idle: list[Worker] = []
        self._running: set[Worker] = set()
        self._busy: dict[str, Worker] = {}
        self._newest: dict[str, object] = {}
        self._dropped: set[Worker] = set()
        self._waiting = 0
        self._open = True
        self._spare()

    @property
    def waiting(self) -> int:
        """How many jobs wait for a worker."""
        return self._waiting

    def keep_ready(self, count: int) -> None:
        """Start workers until so many wait for work."""
        with self._lock:
            self._idle = [worker for worker in self._idle if worker.alive]
            while self._open and len(self._idle) < count:
                self._idle.append(Worker(self._get_ready))

    def call(self, job: Job, *args: Any, tab: str = "") -> Any:
        """Have a job done by a worker that waits, or by a new one.

        Parameters
        ----------
        job : callable
            A function of a module.
        tab : str
            Who asks; an older job of the same asker is ended. Nobody in particular if empty.

        Raises
        ------
        HimotifError, Superseded
        """
        with self._working(tab) as worker:
            return worker.call(job, args, self._timeout_s)

    def stream(self, job: Job, *args: Any, tab: str = "") -> Iterator[Any]:
        """Have a job done that is a generator; return what it yields, as it comes."""
        with self._working(tab) as worker:
            done = False
            try:
                yield from worker.stream(job, args, self._timeout_s)
                done = True
            finally:
                if not done:  # nobody listens any more, or it is lost
                    worker.kill()

    def drop(self, tab: str) -> None:
        """End what is being done for a tab, or waits to be done."""
        with self._lock:
            self._drop(tab)

    def close(self) -> None:
        """End all workers."""
        with self._lock:
            self._open = False
            self._newest.clear()
            for worker in [*self._idle, *self._running]:
                worker.kill()
            self._lock.notify_all()

    @contextlib.contextmanager
    def _working(self, tab: str) -> Iterator[Worker]:
        worker = self._take(tab)
        self._spare()
        try:
            yield worker
        except WorkerLost:
            if worker in self._dropped:
                raise Superseded from None
            raise
        finally:
            self._give_back(worker, tab)

    def _drop(self, tab: str) -> None:
        self._newest.pop(tab, None)
        older = self._busy.pop(tab, None)
        if older is not None:
            self._dropped.add(older)
            older.kill()
        self._lock.notify_all()

    def _take(self, tab: str) -> Worker:
        ticket = object()
        with self._lock:
            if tab:
                self._drop(tab)
                self._newest[tab] = ticket

            def unwanted() -> bool:
                return bool(tab) and self._newest.get(tab) is not ticket

            self._waiting += 1
            try:
                self._lock.wait_for(lambda: unwanted() or len(self._running) < self._most)
            finally:
                self._waiting -= 1
            if unwanted():
                raise Superseded
            worker = next((one for one in iter(self._idle_one, None) if one.alive), None)
            worker = worker or Worker(self._get_ready)
            self._running.add(worker)
            if tab:
                self._busy[tab] = worker
            return worker

    def _idle_one(self) -> Worker | None:
        return self._idle.pop() if self._idle else None

    def _spare(self) -> None:
        """Let the next one get ready, without keeping anybody waiting for it."""
        threading.Thread(target=self.keep_ready, args=(1,), daemon=True).start()

    def _give_back(self, worker: Worker, tab: str) -> None:
        with self._lock:
            self._running.discard(worker)
            if self._busy.get(tab) is worker:
                del self._busy[tab]
                self._newest.pop(tab, None)
            self._dropped.discard(worker)
            if self._once or not self._open or len(self._idle) >= 2:
                worker.kill()
            elif worker.alive:
                self._idle.append(worker)
            self._lock.notify_all()


# -- in the worker ---------------------------------------------------------------------------------


def serve(pipe: Connection, get_ready: Callable[[], object]) -> None:
    """Do jobs until the process that asks is gone."""
    _limit()
    get_ready()
    with contextlib.suppress(EOFError, OSError):
        while True:
            job, args = pipe.recv()
            try:
                result = job(*args)
                if isinstance(result, GeneratorType):
                    for part in result:
                        pipe.send((Answer.PART, part))
                    result = None
                answer = (Answer.DONE, result)
            except HimotifError as error:
                answer = (Answer.FAILED, error)
            except MemoryError:
                text = "there is not enough memory for this; take a smaller picture."
                answer = (Answer.FAILED, WorkerLost(text))
            except (EOFError, OSError):
                return
            except Exception:
                # for the window that started the page; the page itself gets a sentence
                traceback.print_exc()
                answer = (Answer.FAILED, HimotifError(OWN_FAULT))
            pipe.send(answer)
