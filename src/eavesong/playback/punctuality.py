"""How punctual the frames of a song were: how many were skipped, and how late the others left."""

from __future__ import annotations

BINS = 1000
WIDTH = 1e-4
"""Seconds of a bin: a tenth of a millisecond. The last one takes all that is later than a tenth of a second."""


class Punctuality:
    """Counts, in the same small memory however long it goes on."""

    def __init__(self) -> None:
        self.skipped = 0
        """Frames that were never sent, because their moment had passed."""
        self.sent = 0
        self.worst = 0.0
        """Seconds that the latest of the frames that were sent was behind its moment."""
        self._bins = [0] * BINS

    def note(self, behind: float, skipped: int = 0) -> None:
        """A frame left ``behind`` seconds after its moment, and ``skipped`` others before it not at all."""
        self.skipped += skipped
        self.sent += 1
        self.worst = max(self.worst, behind)
        self._bins[min(BINS - 1, max(0, int(behind / WIDTH)))] += 1

    def percentile(self, share: float) -> float:
        """Seconds that ``share`` (0..1) of the frames were behind at most, to a tenth of a millisecond, rounded up."""
        wanted, seen = share * self.sent, 0
        for number, count in enumerate(self._bins):
            seen += count
            if seen >= wanted and seen:
                return self.worst if number == BINS - 1 else min(self.worst, (number + 1) * WIDTH)
        return 0.0

    def __str__(self) -> str:
        late = ", ".join(
            f"{1000 * seconds:.1f} ms {what}"
            for seconds, what in (
                (self.percentile(0.5), "half of them"),
                (self.percentile(0.99), "99 of 100"),
                (self.worst, "the latest"),
            )
        )
        return f"{self.sent:,} frames sent, {self.skipped:,} skipped as too late; behind their moment: {late}"

    def counts(self) -> dict[str, float]:
        """The same for programs."""
        return {
            "frames": self.sent, "skipped": self.skipped, "late_ms_median": _ms(self.percentile(0.5)),
            "late_ms_p99": _ms(self.percentile(0.99)), "late_ms_worst": _ms(self.worst),
        }  # fmt: skip


def _ms(seconds: float) -> float:
    return round(1000 * seconds, 3)
