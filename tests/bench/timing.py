"""The stop-watch of all measurements. Ours and its reference take turns, so that both meet the same machine."""

import resource
import statistics
import time
from collections.abc import Callable

Act = Callable[[], object]


def ms(act: Act) -> float:
    """How long it took, in milliseconds."""
    began = time.perf_counter()
    act()
    return (time.perf_counter() - began) * 1000


def turns(ours: Act, reference: Act, runs: int = 9) -> tuple[list[float], list[float]]:
    """Milliseconds of each run of both."""
    one, two = [], []
    for _ in range(runs):
        one.append(ms(ours))
        two.append(ms(reference))
    return one, two


def percentile(values: list[float], share: float) -> float:
    return sorted(values)[min(len(values) - 1, int(len(values) * share))]


def peak_mb() -> float:
    """The most memory that this process has had so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


class Found(dict):
    """What was measured: name to figure."""

    def keep(self, name: str, ours: list[float], reference: list[float] | None = None) -> None:
        """The median in milliseconds, and as a ratio to the reference's."""
        self[f"{name}, ms"] = statistics.median(ours)
        if reference is not None:
            self[f"{name}, ratio"] = statistics.median(ours) / statistics.median(reference)

    def keep_spread(self, name: str, ours: list[float], reference: list[float]) -> None:
        """The middle and the slow end, each with its ratio."""
        for word, share in (("p50", 0.5), ("p95", 0.95)):
            self[f"{name}, {word}, ms"] = percentile(ours, share)
            self[f"{name}, {word}, ratio"] = percentile(ours, share) / percentile(reference, share)
