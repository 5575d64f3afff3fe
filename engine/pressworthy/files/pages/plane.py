"""The plane of a page: matrices as PDF chains them, and polygons."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

Matrix = tuple[float, float, float, float, float, float]
Point = tuple[float, float]
Polygon = Sequence[Point]


def corners(box: Sequence[float]) -> Polygon:
    left, bottom, right, top = box
    return ((left, bottom), (right, bottom), (right, top), (left, top))


def bounds_of(points: Polygon) -> tuple[float, float, float, float]:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)


def mapped(matrix: Matrix, x: float, y: float) -> Point:
    a, b, c, d, e, f = matrix
    return a * x + c * y + e, b * x + d * y + f


def times(first: Matrix, then: Matrix) -> Matrix:
    a, b, c, d, e, f = first
    p, q, r, s, t, u = then
    return (
        a * p + b * r, a * q + b * s, c * p + d * r, c * q + d * s,
        e * p + f * r + t, e * q + f * s + u,
    )  # fmt: skip


def inverse(matrix: Matrix) -> Matrix:
    a, b, c, d, e, f = matrix
    size = a * d - b * c
    p, q, r, s = d / size, -b / size, -c / size, a / size
    return p, q, r, s, -(e * p + f * r), -(e * q + f * s)


def _area(points: Polygon) -> float:
    """Return twice the signed area, more than 0 counter-clockwise."""
    return sum(
        x * v - u * y for (x, y), (u, v) in zip(points, [*points[1:], points[0]], strict=True)
    )


def _turns(points: Polygon) -> Iterator[float]:
    around = [*points, *points[:2]]
    for (a, b), (c, d), (e, f) in zip(around, around[1:], around[2:], strict=False):
        yield (c - a) * (f - d) - (d - b) * (e - c)


def convex(points: Polygon) -> bool:
    turns = list(_turns(list(dict.fromkeys(points))))
    return min(turns, default=0) >= 0 or max(turns) <= 0


def cut(shape: Polygon, by: Polygon) -> Polygon:
    """Return what of the polygon `shape` lies in the convex polygon `by` (Sutherland, Hodgman)."""
    by = list(dict.fromkeys(by))
    if len(by) < 3:
        return ()
    by = by if _area(by) > 0 else by[::-1]
    for (x, y), (u, v) in zip(by, [*by[1:], by[0]], strict=True):
        side = [(u - x) * (q - y) - (v - y) * (p - x) for p, q in shape]
        kept: list[Point] = []
        for i, (p, q) in enumerate(shape):
            before, now = side[i - 1], side[i]
            if (before < 0) != (now < 0):
                share = before / (before - now)
                r, s = shape[i - 1]
                kept.append((r + share * (p - r), s + share * (q - s)))
            if now >= 0:
                kept.append((p, q))
        shape = kept
    return shape
