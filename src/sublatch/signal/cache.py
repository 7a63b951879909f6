"""Results of stages kept for the candidates that share them."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from threading import Lock
from typing import Any, TypeVar

T = TypeVar("T")


class StageCache:
    """Results by key; several threads may ask for one at once, and it is worked out once.

    It keeps everything until it is dropped: make one for each take.
    """

    def __init__(self) -> None:
        self._futures: dict[Any, Future[Any]] = {}
        self._lock = Lock()

    def get(self, key: Any, compute: Callable[[], T]) -> T:
        """Return the result kept under `key`, worked out by `compute` the first time."""
        with self._lock:
            future = self._futures.get(key)
            mine = future is None
            if future is None:
                future = self._futures[key] = Future()
        if mine:
            try:
                future.set_result(compute())
            except BaseException as problem:
                with self._lock:
                    del self._futures[key]
                future.set_exception(problem)
        result: T = future.result()
        return result
