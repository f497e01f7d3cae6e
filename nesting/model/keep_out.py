"""Keep-outs: the areas of a blank that no cut may touch."""

from __future__ import annotations

from dataclasses import dataclass

from .outline import Loop


@dataclass(frozen=True)
class KeepOut:
    """An area no cut may touch, in the stock's coordinates, mm.

    A part stays one gap away from it, as it does from another part.

    Parameters
    ----------
    loop : Loop
        Its edge.
    label : str
        What stands there; may be empty.
    clearance : float
        How far the edge was drawn round the thing itself, for collet nut and dust
        shoe, mm; 0 for the thing itself.
    """

    loop: Loop
    label: str = ""
    clearance: float = 0.0
