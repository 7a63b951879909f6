"""What the work on an audition's takes needs, together: what is asked, where it goes, and who does it."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, field

from sublatch.audition.folder.layout import Layout
from sublatch.audition.folder.manifest import Manifest
from sublatch.audition.listen.monitoring import Monitoring
from sublatch.audition.plan.records import Audition, TakeEntry
from sublatch.signal.cache import StageCache
from sublatch.takes.take import Take

Progress = Callable[[str], None]
"""Called with a candidate's name each time one is done."""


@dataclass(frozen=True, eq=False)
class AuditionWork:
    """What the work on all takes needs.

    Attributes
    ----------
    plan, layout, manifest
        What is asked, where it goes, and what is there already.
    monitoring
        What is listened through, and with: levels are matched as heard through it, reels are written so.
    workers
        Threads that candidates are spread over.
    progress
        Called with each candidate's name when it is rendered.
    """

    plan: Audition
    layout: Layout
    manifest: Manifest
    monitoring: Monitoring
    workers: Executor
    progress: Progress


@dataclass(frozen=True, eq=False, kw_only=True)
class TakeWork(AuditionWork):
    """What the work on one take needs besides.

    Attributes
    ----------
    take, entry
        The take, and how the plan names it; every candidate's moves end before the take does.
    cache
        Results shared by its candidates.
    """

    take: Take
    entry: TakeEntry
    cache: StageCache = field(default_factory=StageCache)
