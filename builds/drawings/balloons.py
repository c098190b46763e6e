"""Where the numbered circles stand round a drawing, and which spot each belongs to."""

from collections.abc import Sequence
from math import dist

from builds.drawings.svg import Point


def ring(
    left: float, top: float, right: float, bottom: float, pitch: float
) -> list[Point]:
    """Places at even steps on the sides of a frame, corners once."""
    across = max(1, int((right - left) // pitch))
    down = max(1, int((bottom - top) // pitch))
    xs = [left + (right - left) * i / across for i in range(across + 1)]
    ys = [top + (bottom - top) * i / down for i in range(1, down)]
    return (
        [(x, top) for x in xs]
        + [(x, bottom) for x in xs]
        + [(left, y) for y in ys]
        + [(right, y) for y in ys]
    )


def assign(spots: Sequence[Point], places: Sequence[Point]) -> list[int]:
    """
    Give each spot its own place so that no two leader lines cross.

    Starts from the nearest free place, then moves and swaps while that shortens the
    lines. Two lines that cross are always shorter when swapped, so at the end none
    do. The same input gives the same answer.
    """
    if len(places) < len(spots):
        raise ValueError("fewer places than spots")
    cost = [[dist(spot, place) for place in places] for spot in spots]
    free = set(range(len(places)))
    taken: list[int] = []
    for row in cost:
        place = min(free, key=lambda p, row=row: (row[p], p))  # type: ignore[misc]
        free.discard(place)
        taken.append(place)
    while _move(cost, taken, free) or _swap(cost, taken):
        pass
    return taken


def _move(cost: list[list[float]], taken: list[int], free: set[int]) -> bool:
    moved = False
    for spot, row in enumerate(cost):
        best = min(free, key=lambda p: (row[p], p), default=None)
        if best is not None and row[best] < row[taken[spot]] - 1e-9:
            free.add(taken[spot])
            free.discard(best)
            taken[spot] = best
            moved = True
    return moved


def _swap(cost: list[list[float]], taken: list[int]) -> bool:
    swapped = False
    for a in range(len(taken)):
        for b in range(a + 1, len(taken)):
            now = cost[a][taken[a]] + cost[b][taken[b]]
            then = cost[a][taken[b]] + cost[b][taken[a]]
            if then < now - 1e-9:
                taken[a], taken[b] = taken[b], taken[a]
                swapped = True
    return swapped
