"""Whether two copies can share a blank at all: by no-fit regions, for every turn.

Two copies share a blank if some offset of one from the other keeps both inside the
blank and apart. For a pair of turns, the offsets that keep both inside are a rectangle;
those at which they overlap are the no-fit region. If that covers the rectangle, for all
pairs of turns that are allowed, the two cannot share.

Where a part may take every turn, the circle is cut into arcs. Turned by up to h away
from the middle of an arc, no point moves further than 2 r sin(h / 2), r being its
distance from the centre of turning; so the shape shrunk by that lies in the shape at
every turn of the arc, and what cannot share when shrunk cannot share at any of them.
Arcs are halved where that does not decide; it is given up, in favour of sharing, after
a fixed count of steps.

Everything here errs on the side of sharing: shapes are inside the true grown outlines,
less what the check tolerates, rooms are at least as large as the true ones, and blanks
of any outline count as their boxes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from .kernels import FloatArray
from .model.job import Cutting
from .model.motion import Motion
from .model.outline import Outline
from .model.part import Part
from .model.stock import Stock
from .nofit import nofit_rings
from .prepare import Shape

FINE = 0.005
"""Chord error where a curve has to be flattened, mm."""

SURE = 1e-4
"""How deep offsets must lie in a no-fit region to be sure of it, mm."""

STEPS = 800
"""Pairs of arcs looked at before a pair of free parts is said to share ..."""

ALL_STEPS = 6000
"""... and before all pairs that are left are."""

FINEST = 3.0
"""Half width down to which arcs are first looked at for each part alone, degrees."""

ARC = 45.0
"""Arcs of free turning to begin with, degrees."""

Poll = Callable[[], None]


@dataclass(frozen=True)
class Pose:
    """Turns a part may take: within `half` degrees of `turn`, and face up or down."""

    turn: float
    half: float
    flipped: bool

    def halves(self) -> tuple[Pose, Pose]:
        """Return the two halves of the arc."""
        quarter = self.half / 2.0
        return (
            Pose(self.turn - quarter, quarter, self.flipped),
            Pose(self.turn + quarter, quarter, self.flipped),
        )


class Guest:
    """A part as something to be kept apart from others.

    Parameters
    ----------
    part : Part
    cutting : Cutting
    slack : float
        What copies are smaller by all round than grown outlines, mm.
    """

    def __init__(self, part: Part, cutting: Cutting, slack: float) -> None:
        self.part = part
        size = math.hypot(*part.outline.size)
        exact = inner_polygon(part.outline, cutting, slack)
        self.polygon = simpler(exact, size)
        hull = np.array(self.polygon.convex_hull.exterior.coords)[:-1]
        circle = shapely.minimum_bounding_circle(self.polygon)
        self.centre = np.array(circle.centroid.coords[0])
        self.reach = float(np.hypot(*(hull - self.centre).T).max())
        if is_round(part.outline) and not len(exact.interiors):
            self.disc = part.outline.size[0] / 2.0 + cutting.gap / 2.0 - slack
        else:
            disc = shapely.maximum_inscribed_circle(self.polygon, tolerance=1e-4 * size)
            at = shapely.get_point(disc, 0)
            self.disc = float(shapely.distance(self.polygon.boundary, at))
        self.area = float(exact.area)
        self.upright = is_box(self.polygon)
        self._shapes: dict[tuple[float, bool], Shape | None] = {}
        self._hulls: dict[tuple[float, bool], FloatArray] = {}

    def poses(self, stock: Stock) -> list[Pose]:
        """Return the turns allowed on a kind of stock."""
        turns = self.part.turn.turns(stock.grain)
        faces = (False, True) if self.part.flip else (False,)
        if is_round(self.part.outline):
            return [Pose(0.0, 0.0, False)]
        if turns is None:
            middles = np.arange(0.0, 360.0, ARC)
            return [Pose(float(t), ARC / 2.0, f) for f in faces for t in middles]
        return [Pose(t, 0.0, f) for f in faces for t in turns]

    def shape(self, half: float, flipped: bool) -> Shape | None:
        """Return what lies in the part at every turn of an arc about 0; None: nothing.

        The shape's origin stays the centre of turning.
        """
        key = (half, flipped)
        if key not in self._shapes:
            polygon = shapely.transform(self.polygon, lambda p: p - self.centre)
            if flipped:
                polygon = shapely.transform(polygon, lambda p: p * np.array([-1, 1]))
            if half > 0.0:
                shrink = 2.0 * self.reach * math.sin(math.radians(half) / 2.0)
                polygon = largest(polygon.buffer(-shrink, join_style="mitre"))
            self._shapes[key] = _as_shape(polygon)
        return self._shapes[key]

    def box(self, pose: Pose) -> tuple[float, float, float, float] | None:
        """Return the box about its centre of what a pose has in common; None: empty."""
        shape = self.shape(pose.half, pose.flipped)
        if shape is None:
            return None
        key = (pose.half, pose.flipped)
        if key not in self._hulls:
            hull = shapely.MultiPoint(shape.rings[0]).convex_hull
            self._hulls[key] = np.array(hull.exterior.coords)[:-1]
        points = Motion(0.0, 0.0, pose.turn).points(self._hulls[key])
        (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)


def inner_polygon(outline: Outline, cutting: Cutting, slack: float) -> shapely.Polygon:
    """Return a polygon inside an outline grown by half the gap less a slack."""
    if not cutting.use_holes:
        outline = Outline(outline.outer)
    flat = outline.flatten(FINE)
    polygon = shapely.Polygon(flat.outer, flat.holes)
    reach = cutting.gap / 2.0 - slack - flat.error
    if reach != 0.0:
        polygon = largest(polygon.buffer(reach, quad_segs=8))
    return polygon


def simpler(polygon: shapely.Polygon, size: float) -> shapely.Polygon:
    """Return a polygon inside one with many corners that has fewer."""
    count = shapely.get_num_coordinates(polygon)
    for share in (2e-4, 1e-3, 4e-3):
        if count <= 60:
            break
        step = share * size
        simple = largest(polygon.buffer(-step, quad_segs=4).simplify(step))
        if simple.is_valid and not simple.is_empty and polygon.covers(simple):
            fewer = shapely.get_num_coordinates(simple)
            if fewer <= 0.7 * count:
                polygon, count = simple, fewer
    return polygon


def largest(region: shapely.Polygon | shapely.MultiPolygon) -> shapely.Polygon:
    """Return the largest piece of a region."""
    pieces = shapely.get_parts(region)
    if not len(pieces):
        return shapely.Polygon()
    return pieces[int(np.argmax(shapely.area(pieces)))]


def is_round(outline: Outline) -> bool:
    """Whether an outline looks the same at every turn: circles round one centre."""
    if not all(loop.is_circle for loop in outline.loops):
        return False
    boxes = np.array([loop.bounds for loop in outline.loops])
    centres = boxes[:, :2] + boxes[:, 2:]
    return bool(np.ptp(centres, axis=0).max() <= 1e-9 * np.ptp(boxes))


def is_box(polygon: shapely.Polygon) -> bool:
    """Whether a polygon is an upright rectangle."""
    x0, y0, x1, y1 = polygon.bounds
    return bool(polygon.area >= (x1 - x0) * (y1 - y0) * (1.0 - 1e-12))


def _as_shape(polygon: shapely.Polygon) -> Shape | None:
    if polygon.is_empty or polygon.area <= 0.0:
        return None
    polygon = shapely.normalize(polygon)
    rings = [np.array(polygon.exterior.coords)[:-1]]
    rings += [np.array(ring.coords)[:-1] for ring in polygon.interiors]
    turned = []
    for k, ring in enumerate(rings):
        ccw = shapely.is_ccw(shapely.LinearRing(ring))
        turned.append(ring if bool(ccw) == (k == 0) else ring[::-1].copy())
    return Shape(tuple(turned), np.zeros(2), float(polygon.area))


@dataclass(frozen=True)
class BlankBox:
    """What grown copies can lie in on a kind of stock, at most: a rectangle."""

    stock: Stock
    width: float
    height: float
    area: float


class Sharing:
    """Answers whether parts can share a blank; remembers no-fit regions.

    Parameters
    ----------
    guests : sequence of Guest
    boxes : sequence of BlankBox
        Every kind of stock that copies may lie on.
    poll : callable
        Called now and then; what it raises ends the work.
    """

    def __init__(
        self, guests: Sequence[Guest], boxes: Sequence[BlankBox], poll: Poll
    ) -> None:
        self.guests = guests
        self.boxes = boxes
        self._poll = poll
        self._steps = ALL_STEPS
        self._regions: dict[tuple[object, ...], shapely.Polygon] = {}
        self._fitting: dict[tuple[int, str], list[Pose]] = {}
        self._narrow = [[self._least(g, box) for box in boxes] for g in guests]

    def _least(self, guest: Guest, box: BlankBox) -> tuple[float, float]:
        """Least width and least height at which a guest fits; infinite if it cannot.

        For listed turns exactly, for free ones at some turns: enough to say yes.
        """
        wide = high = math.inf
        for pose in guest.poses(box.stock):
            steps = (0.0,) if pose.half == 0.0 else (0.0, 15.0, 30.0)
            for step in steps:
                found = guest.box(Pose(pose.turn + step, 0.0, pose.flipped))
                if found is None:
                    continue
                width, height = found[2] - found[0], found[3] - found[1]
                if width <= box.width and height <= box.height:
                    wide, high = min(wide, width), min(high, height)
        return wide, high

    def fits(self, one: int) -> bool:
        """Whether a guest was seen to fit on some blank."""
        return any(math.isfinite(wide) for wide, _ in self._narrow[one])

    def can_share(self, one: int, two: int) -> bool:
        """Return False only if no blank can hold a copy of each."""
        for k, box in enumerate(self.boxes):
            wide = self._narrow[one][k][0] + self._narrow[two][k][0]
            high = self._narrow[one][k][1] + self._narrow[two][k][1]
            if wide <= box.width or high <= box.height:
                return True
        return any(self._on(one, two, box) for box in self.boxes)

    def _on(self, one: int, two: int, box: BlankBox) -> bool:
        a, b = self.guests[one], self.guests[two]
        if a.area + b.area > box.area:
            return False
        if not discs_apart(a.disc, b.disc, box.width, box.height):
            return False
        left, right = self._poses(one, box), self._poses(two, box)
        if any(pose.half for pose in left) and any(pose.half for pose in right):
            # Half a turn of the whole blank changes nothing.
            left = [pose for pose in left if pose.turn % 360.0 < 180.0]
        stack = [(p, q) for p in left for q in right]
        steps = STEPS
        while stack:
            steps -= 1
            self._steps -= 1
            if steps < 0 or self._steps < 0:
                return True
            self._poll()
            p, q = stack.pop()
            if self._apart(one, two, p, q, box):
                continue
            if p.half == 0.0 and q.half == 0.0:
                return True
            middle = Pose(p.turn, 0.0, p.flipped), Pose(q.turn, 0.0, q.flipped)
            if not self._apart(one, two, *middle, box):
                return True
            if p.half * a.reach >= q.half * b.reach:
                stack += [(half, q) for half in p.halves()]
            else:
                stack += [(p, half) for half in q.halves()]
        return False

    def _poses(self, one: int, box: BlankBox) -> list[Pose]:
        """Return the turns of a guest, but for arcs at which it surely does not fit."""
        key = (one, box.stock.id)
        if key not in self._fitting:
            guest = self.guests[one]
            kept = []
            stack = guest.poses(box.stock)[::-1]
            while stack:
                pose = stack.pop()
                found = guest.box(pose)
                if found is not None and (
                    found[2] - found[0] > box.width or found[3] - found[1] > box.height
                ):
                    continue
                if pose.half > FINEST:
                    stack += pose.halves()[::-1]
                else:
                    kept.append(pose)
            self._fitting[key] = kept
        return self._fitting[key]

    def _apart(self, one: int, two: int, p: Pose, q: Pose, box: BlankBox) -> bool:
        """Whether surely no place keeps both on the blank without overlap."""
        first, second = self.guests[one].box(p), self.guests[two].box(q)
        if first is None or second is None:
            return False
        slack_a = box.width - (first[2] - first[0]), box.height - (first[3] - first[1])
        slack_b = (
            box.width - (second[2] - second[0]),
            box.height - (second[3] - second[1]),
        )
        if min(*slack_a, *slack_b) < 0.0:
            return True  # one of the two does not fit at all
        boxes = self.guests[one].upright and self.guests[two].upright
        if boxes and p.half == q.half == 0.0 and p.turn % 90.0 == q.turn % 90.0 == 0.0:
            # Rectangles lie apart only side by side.
            wide = slack_a[0] >= second[2] - second[0]
            return not (wide or slack_a[1] >= second[3] - second[1])
        # Centres of either relative to the blank's corner: [-low, -low + slack].
        x0 = -second[0] - (-first[0] + slack_a[0])
        y0 = -second[1] - (-first[1] + slack_a[1])
        x1 = -second[0] + slack_b[0] + first[0]
        y1 = -second[1] + slack_b[1] + first[1]
        offsets = shapely.box(x0, y0, x1, y1)
        region = self._region(one, two, p, q)
        turned = shapely.transform(
            offsets, lambda c: Motion(0.0, 0.0, -p.turn).points(np.array(c))
        )
        return bool(region.covers(turned))

    def _region(self, one: int, two: int, p: Pose, q: Pose) -> shapely.Polygon:
        relative = round((q.turn - p.turn) % 360.0, 9) % 360.0
        key = (one, two, p.half, q.half, p.flipped, q.flipped, relative)
        if key not in self._regions:
            a = self.guests[one].shape(p.half, p.flipped)
            b = self.guests[two].shape(q.half, q.flipped)
            assert a is not None and b is not None, "empty shapes share"
            rings = nofit_rings(a, b, relative)
            filled = [shapely.Polygon(r) for r in rings if _ccw(r)]
            holes = [shapely.Polygon(r) for r in rings if not _ccw(r)]
            region = shapely.union_all(filled).difference(shapely.union_all(holes))
            inner = region.buffer(-SURE, join_style="mitre")
            shapely.prepare(inner)
            self._regions[key] = inner
        return self._regions[key]


def _ccw(ring: FloatArray) -> bool:
    x, y = ring[:, 0] - ring[0, 0], ring[:, 1] - ring[0, 1]
    return bool(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) > 0.0)


def discs_apart(one: float, two: float, width: float, height: float) -> bool:
    """Whether two discs may lie apart in a rectangle."""
    dx, dy = width - one - two, height - one - two
    if min(width - 2 * one, width - 2 * two, height - 2 * one, height - 2 * two) < 0.0:
        return False  # one of them does not fit at all
    return math.hypot(max(dx, 0.0), max(dy, 0.0)) >= one + two
