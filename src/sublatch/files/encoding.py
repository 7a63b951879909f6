"""Samples on their way into a sound file: what stands for all of them, and the file that libsndfile writes to."""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray


class Content:
    """What a file of this program holds, as far as it has been added: how much, and what stands for all of it."""

    def __init__(self, sample_rate: int, title: str, comment: str) -> None:
        self._head = (sample_rate, title, comment)
        self._sum = sha256()
        self.channels = 0
        self.size = 0

    def add(self, pcm: NDArray[np.int32]) -> None:
        """Add a stretch of samples (n, channels)."""
        if not self.channels:
            rate, title, comment = self._head
            self.channels = pcm.shape[1]
            self._sum.update(f"{rate}\0{self.channels}\0{title}\0{comment}\0".encode())
        self._sum.update(np.ascontiguousarray(pcm, dtype="<i4").data)
        self.size += pcm.size

    @property
    def digest(self) -> str:
        """16 hexadecimal digits that stand for it."""
        return self._sum.hexdigest()[:16]


class Sink:
    """A file that remembers what went wrong: libsndfile's calls back into Python cannot raise."""

    def __init__(self, raw: BinaryIO) -> None:
        self._raw = raw
        self.problem: BaseException | None = None

    def write(self, data: bytes) -> int:
        """Write, or return 0 when it fails."""
        return self._tried(lambda: self._raw.write(data))

    def seek(self, offset: int, whence: int = 0) -> int:
        """Move to a place."""
        return self._tried(lambda: self._raw.seek(offset, whence))

    def tell(self) -> int:
        """Return the place."""
        return self._tried(self._raw.tell)

    def _tried(self, action: Callable[[], int]) -> int:
        """Return what `action` does, or 0 once something has failed."""
        try:
            return 0 if self.problem else action()
        except BaseException as problem:
            self.problem = problem
            return 0
