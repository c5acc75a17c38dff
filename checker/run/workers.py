"""Distributes tasks over processes or machines: results in order, and no task lost with a
worker.
"""

from __future__ import annotations

import os
import sys
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Any, Generic, TypeVar

START = "PRESCREED_START"
"""The variable that says how workers start: fork, spawn or forkserver."""

if TYPE_CHECKING:
    from concurrent.futures import Executor, Future, ProcessPoolExecutor

Task = TypeVar("Task")


class WorkerDied:
    """Replaces the result of a task whose worker died."""


class WorkerPool(Generic[Task]):
    """Does tasks on its own worker processes, or on any executor of the standard interface."""

    def __init__(
        self,
        work: Callable[..., Any],
        arguments: Callable[[Task], tuple[Any, ...] | None],
        jobs: int,
        executor: Executor | None = None,
    ) -> None:
        """Start nothing yet.

        Args:
            work: done by a worker, with the arguments of a task; can be pickled.
            arguments: from a task to its arguments, which can be pickled; None for a task without
                work, whose result is None.
            jobs: how many workers there are.
            executor: a pool to use instead of new processes; not shut down.
        """
        self.work = work
        self.arguments = arguments
        self.jobs = jobs
        self.shared = executor

    def in_order(self, tasks: Iterable[Task]) -> Iterator[tuple[Task, Any]]:
        """Each task with its result, in order; only so many run at once that memory stays constant.

        A worker that dies fails every task of its pool: the oldest gets the result `WorkerDied`,
        because the culprit cannot be identified, and the others are repeated.

        Args:
            tasks: none of them None; taken as results are asked for.

        Returns:
            What the function returned; what it raised is raised here.
        """
        left = iter(tasks)
        waiting: deque[Task] = deque()
        done = False
        while not done:
            executor = self.shared or _pool(self.jobs)
            under_way: deque[tuple[Task, Future[Any] | None]] = deque()
            try:
                while True:
                    while len(under_way) <= 2 * self.jobs:
                        task = waiting.popleft() if waiting else next(left, None)
                        if task is None:
                            break
                        under_way.append((task, self._submitted(executor, task)))
                    if not under_way:
                        done = True
                        break
                    task, future = under_way[0]
                    result = None if future is None else self._answer(future)
                    under_way.popleft()
                    yield task, result
                    if result is WorkerDied and self.shared is None:
                        break
            except BaseException:
                if self.shared is None:
                    _stop(executor)
                raise
            waiting.extendleft(task for task, _ in reversed(under_way))
            if self.shared is None:
                executor.shutdown(wait=done, cancel_futures=True)

    def _submitted(self, executor: Executor, task: Task) -> Future[Any] | None:
        arguments = self.arguments(task)
        if arguments is None:
            return None
        try:
            return executor.submit(self.work, *arguments)
        except _broken():
            from concurrent.futures import Future

            failed: Future[Any] = Future()
            failed.set_exception(_broken()[0]())
            return failed

    @staticmethod
    def _answer(future: Future[Any]) -> Any:
        try:
            return future.result()
        except Exception as error:
            # A cluster has an exception of its own for a task that outlived too many workers.
            if isinstance(error, _broken()) or type(error).__name__ == "KilledWorker":
                return WorkerDied
            raise


def _broken() -> tuple[type[BaseException], ...]:
    from concurrent.futures import BrokenExecutor

    return (BrokenExecutor,)


def _pool(jobs: int) -> ProcessPoolExecutor:
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    # Only on Linux is it safe to fork a process that has threads.
    method = os.environ.get(START) or ("fork" if sys.platform == "linux" else "spawn")
    return ProcessPoolExecutor(jobs, multiprocessing.get_context(method), _start)


def _start() -> None:
    import gc
    import signal

    # An interrupt is the parent's to answer: it ends the workers itself.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    gc.disable()


def _stop(pool: Any) -> None:
    processes = list((pool._processes or {}).values())
    answers = pool._result_queue
    pool.shutdown(wait=False, cancel_futures=True)
    for process in processes:
        process.terminate()
    for process in processes:
        process.join()
    # A worker may have died in the middle of an answer; without this end of the pipe, the thread
    # that waits for the rest learns that there is none, and the program can end.
    if answers is not None:
        answers._writer.close()
