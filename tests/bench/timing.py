"""How long a task takes."""

import time
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")


def best_of(runs: int, task: Callable[[], T]) -> tuple[float, T]:
    """Run a task some times; the shortest is the one least disturbed."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        answer = task()
        times.append(time.perf_counter() - start)
    return min(times), answer


def least_work(runs: int, task: Callable[[], T]) -> tuple[float, T]:
    """Run a task some times; the least of the processor's time, of this process."""
    times = []
    for _ in range(runs):
        start = time.process_time()
        answer = task()
        times.append(time.process_time() - start)
    return min(times), answer
