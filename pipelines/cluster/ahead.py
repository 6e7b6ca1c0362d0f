"""Work that runs a bounded number of items before its turn."""

import itertools
from collections import deque
from concurrent.futures import ThreadPoolExecutor

# Requests at the same time, and items begun before their turn.
THREADS, WINDOW = 8, 32


def ahead(items, work, threads=THREADS, window=WINDOW):
    """(item, what `work` gave for it), in order; no more than `window` are begun or held."""
    with ThreadPoolExecutor(threads) as pool:
        waiting = deque()
        for item in itertools.chain(items, [None] * window):
            if item is not None:
                waiting.append((item, pool.submit(work, item)))
            if waiting and (item is None or len(waiting) >= window):
                first, done = waiting.popleft()
                yield first, done.result()
