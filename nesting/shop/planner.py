"""How long a path takes when the machine has to speed up and slow down.

The model is that of any look-ahead motion planner: a speed limit for every move
and every corner, a forward and a backward pass that keep the speed reachable, and
a trapezoid of speed on each move. It is elementary mechanics.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from .path import Move


def trapezoid_time(
    length: float, start: float, cruise: float, end: float, acceleration: float
) -> float:
    """Return the seconds for a straight move.

    Parameters
    ----------
    length : float
        mm.
    start, cruise, end : float
        Speed at the beginning, at most, and at the end, mm/s.
    acceleration : float
        mm/s².
    """
    up = (cruise * cruise - start * start) / (2.0 * acceleration)
    down = (cruise * cruise - end * end) / (2.0 * acceleration)
    if up + down <= length:
        ramps = (2.0 * cruise - start - end) / acceleration
        return ramps + (length - up - down) / cruise
    peak = math.sqrt((2.0 * acceleration * length + start * start + end * end) / 2.0)
    peak = max(peak, start, end)
    return (2.0 * peak - start - end) / acceleration


def corner_speed(turn: float, acceleration: float, deviation: float) -> float:
    """Return the speed, mm/s, at which a corner may be taken.

    The corner is thought rounded by an arc that strays at most `deviation` (mm)
    from it, run at the speed whose sideways acceleration is `acceleration`.

    Parameters
    ----------
    turn : float
        How far the path turns, radians; 0 is straight on.
    """
    half = math.cos(min(abs(turn), math.pi) / 2.0)  # sine of half the inner angle
    if half >= 1.0 - 1e-15:
        return math.inf
    radius = deviation * half / (1.0 - half)
    return math.sqrt(max(acceleration * radius, 0.0))


def path_time(
    moves: Sequence[Move], feed: float, acceleration: float, deviation: float
) -> float:
    """Return the seconds for a path that begins and ends at rest.

    Parameters
    ----------
    moves : sequence of Move
        In the order they are cut.
    feed : float
        mm/s.
    acceleration : float
        mm/s².
    deviation : float
        How far a corner may be rounded, mm; 0 stops at every corner.
    """
    moves = [move for move in moves if move.length > 0.0]
    if not moves:
        return 0.0
    limit = [min(feed, math.sqrt(acceleration * move.radius)) for move in moves]
    joint = [0.0]
    for i in range(1, len(moves)):
        turn = math.remainder(moves[i].start - moves[i - 1].end, 2.0 * math.pi)
        corner = corner_speed(turn, acceleration, deviation)
        joint.append(min(limit[i - 1], limit[i], corner))
    joint.append(0.0)
    for i, move in enumerate(moves):
        reach = math.sqrt(joint[i] ** 2 + 2.0 * acceleration * move.length)
        joint[i + 1] = min(joint[i + 1], reach)
    for i in range(len(moves) - 1, -1, -1):
        reach = math.sqrt(joint[i + 1] ** 2 + 2.0 * acceleration * moves[i].length)
        joint[i] = min(joint[i], reach)
    return math.fsum(
        trapezoid_time(move.length, joint[i], limit[i], joint[i + 1], acceleration)
        for i, move in enumerate(moves)
    )
