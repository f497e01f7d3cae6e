"""The least overlapping layouts that a search was stuck at, to go on from."""

from __future__ import annotations

from .overlap import Places


class Pool:
    """Keeps the best few layouts, the least overlapping first.

    Parameters
    ----------
    most : int
        How many.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._entries: list[tuple[float, Places]] = []

    def __len__(self) -> int:
        """Count of layouts kept."""
        return len(self._entries)

    @property
    def least(self) -> float:
        """Overlap of the best; infinite if there is none."""
        return self._entries[0][0] if self._entries else float("inf")

    def add(self, overlap: float, places: Places) -> None:
        """Keep a copy of a layout if it is among the best."""
        self._entries.append((overlap, places.copy()))
        self._entries.sort(key=lambda entry: entry[0])
        del self._entries[self._most :]

    def pick(self, random: float) -> Places:
        """Return a layout by a number in [0, 1), the better ones more often."""
        return self._entries[int(len(self._entries) * random**2)][1]

    def clear(self) -> None:
        """Forget all, as after a better layout was found."""
        self._entries.clear()
