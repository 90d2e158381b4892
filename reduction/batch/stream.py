"""More runs than memory holds: read, reduced and let go in chunks, by one process or several."""

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from itertools import islice

import numpy as np

from reduction.batch.reduce import Reduced, reduce_runs
from reduction.batch.runs import Runs
from reduction.notes import Thresholds

KEPT = 3_900_000
"""Numbers in that array, 31 MB, the most the allocator keeps."""

Loader = Callable[[], Runs]
"""Reads one chunk of runs. With several processes it is called in one of them, so that readings
need not travel between processes: a function of a module, or a partial of one."""


def reduce_stream(
    loaders: Iterable[Loader], thresholds: Thresholds | None = None, processes: int = 1
) -> Iterator[Reduced]:
    """The results of every chunk, in order; no more chunks are held at once than processes.

    The iterator may be left at any moment: what it has given are whole chunks.
    """
    if processes == 1:
        _keep_memory()
        for loader in loaders:
            yield _reduce_chunk(loader, thresholds)
        return
    pending = iter(loaders)
    with ProcessPoolExecutor(processes, initializer=_keep_memory) as pool:
        running: deque[Future[Reduced]] = deque()
        for loader in islice(pending, 2 * processes):
            running.append(pool.submit(_reduce_chunk, loader, thresholds))
        while running:
            yield running.popleft().result()
            for loader in islice(pending, 1):
                running.append(pool.submit(_reduce_chunk, loader, thresholds))


def _keep_memory() -> None:
    """Let go of one large array: the allocator of Linux then keeps what is freed for what is next.

    Otherwise it gives the memory of each chunk back and takes it again page by page, which costs
    a quarter of the time.
    """
    np.empty(KEPT)


def _reduce_chunk(loader: Loader, thresholds: Thresholds | None) -> Reduced:
    return reduce_runs(loader(), thresholds)
