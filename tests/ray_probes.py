"""Which rays are sent: to either side of every piece of every edge that can bound the light."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from ray_triangles import Bools, Floats

SIDE_STEP_M = 2e-6
"""How far to the side of an edge a probing ray is sent, metres."""


def _crossings(segments: Floats, cutters: Floats) -> Floats:
    """Where cutters (C, 2, 2) cross segments (S, 2, 2): shares (S, C) of the segment, or nan."""
    p, r = segments[:, None, 0], (segments[:, 1] - segments[:, 0])[:, None]
    q, s = cutters[None, :, 0], (cutters[:, 1] - cutters[:, 0])[None]
    det = r[..., 0] * s[..., 1] - r[..., 1] * s[..., 0]
    size = np.linalg.norm(r, axis=-1) * np.linalg.norm(s, axis=-1)
    skew = np.abs(det) > 1e-12 * size
    det = np.where(skew, det, 1.0)
    w = q - p
    share = (w[..., 0] * s[..., 1] - w[..., 1] * s[..., 0]) / det
    other = (w[..., 0] * r[..., 1] - w[..., 1] * r[..., 0]) / det
    inside = skew & (share > 0.0) & (share < 1.0) & (other >= -1e-9) & (other <= 1.0 + 1e-9)
    return np.where(inside, share, np.nan)


def clip_segments(segments: Floats, box: Floats) -> Floats:
    """The parts of segments (S, 2, 2) inside a box (low u, low v, high u, high v)."""
    start, along = segments[:, 0], segments[:, 1] - segments[:, 0]
    low, high = np.zeros(len(segments)), np.ones(len(segments))
    keep = np.linalg.norm(along, axis=1) > 1e-12
    for axis in (0, 1):
        level = np.abs(along[:, axis]) < 1e-15
        step = np.where(level, 1.0, along[:, axis])
        a = (box[axis] - start[:, axis]) / step
        b = (box[axis + 2] - start[:, axis]) / step
        within = (start[:, axis] >= box[axis]) & (start[:, axis] <= box[axis + 2])
        low = np.where(level, low, np.maximum(low, np.minimum(a, b)))
        high = np.where(level, high, np.minimum(high, np.maximum(a, b)))
        keep &= ~level | within
    keep &= low < high
    low, high = low[keep, None], high[keep, None]
    return np.stack([start[keep] + low * along[keep], start[keep] + high * along[keep]], axis=1)


def ring_of(corners: Floats) -> Floats:
    """Edges (V, 2, k) of a closed line through corners (V, k)."""
    return np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)


def box_ring(box: Floats) -> Floats:
    return ring_of(
        np.array([[box[0], box[1]], [box[2], box[1]], [box[2], box[3]], [box[0], box[3]]])
    )


def probe_rays(segments: Floats, cutters: Floats) -> Floats:
    """Points (P, 2) just beside every piece of the segments between their crossings."""
    if not len(segments):
        return np.zeros((0, 2))
    cuts = np.nan_to_num(_crossings(segments, cutters), nan=1.0)
    ends = np.ones((len(segments), 1))
    cuts = np.sort(np.concatenate([0.0 * ends, cuts, ends], axis=1), axis=1)
    row, column = np.nonzero(np.diff(cuts, axis=1) > 1e-12)
    a, b = cuts[row, column], cuts[row, column + 1]
    start, along = segments[row, 0], segments[row, 1] - segments[row, 0]
    length = np.linalg.norm(along, axis=1)
    side = np.column_stack([-along[:, 1], along[:, 0]]) / length[:, None]
    found = []
    for share in (0.03, 0.5, 0.97):
        place = start + (a + share * (b - a))[:, None] * along
        for step in (SIDE_STEP_M, -SIDE_STEP_M, 2e-4, -2e-4):
            found.append(place + step * side)
    return np.concatenate(found)


Member = Callable[[Floats], Bools]


@dataclass(frozen=True)
class _Scan:
    area_m2: float
    edges: Floats
    """Places (E, 2) where light was found to end."""


def scan_lines(member: Member, segments: Floats, box: Floats) -> _Scan:
    """Area of the set {member} inside a box, and points of its rim.

    member takes coordinates (N, 2) and tells which are in the set; segments (S, 2, 2) are lines
    where its rim may run. Lines of constant v are scanned one slab at a time; between two levels
    at which rims meet the lit length is a straight function of v, so its value in the middle
    of the slab gives the slab's area. Where three lines show that it is not straight the slab is
    cut up, so a line missing in `segments` costs time, not accuracy.
    """
    if not (box[2] - box[0] > 1e-9 and box[3] - box[1] > 1e-9):
        return _Scan(0.0, np.zeros((0, 2)))
    lines = np.concatenate([clip_segments(segments, box), box_ring(box)])
    share = _crossings(lines, lines)
    row, column = np.nonzero(np.isfinite(share))
    met = lines[row, 0, 1] + share[row, column] * (lines[row, 1, 1] - lines[row, 0, 1])
    levels = np.unique(np.clip(np.concatenate([met, lines[:, :, 1].ravel()]), box[1], box[3]))
    levels = levels[np.concatenate([[True], np.diff(levels) > 1e-10])]
    slabs = np.column_stack([levels[:-1], levels[1:]])
    area, edges = 0.0, []
    straight_to = 1e-7 * (box[2] - box[0]) + 2e-7
    for attempt in range(12):
        if not len(slabs):
            break
        height = slabs[:, 1] - slabs[:, 0]
        at = slabs[:, :1] + height[:, None] * np.array([[1.0 / 6.0, 0.5, 5.0 / 6.0]])
        length, found = _lit_lengths(member, lines, box, at.ravel())
        length = length.reshape(-1, 3)
        edges.append(found)
        bent = np.abs(length[:, 0] + length[:, 2] - 2.0 * length[:, 1]) > straight_to
        bent &= height > 1e-7
        if attempt == 11:
            bent[:] = False
        area += float((height * length[:, 1])[~bent].sum())
        slabs = np.concatenate(
            [
                np.column_stack([slabs[bent, 0] + i * height[bent] / 3.0] * 2)
                + np.column_stack([0.0 * height[bent], height[bent] / 3.0])
                for i in range(3)
            ]
        )
    return _Scan(area, np.concatenate(edges) if edges else np.zeros((0, 2)))


def _lit_lengths(
    member: Member, lines: Floats, box: Floats, levels: Floats
) -> tuple[Floats, Floats]:
    """Lit length (L,) on each level v (L,), and the places (E, 2) where light ends on them."""
    low, high = box[0], box[2]
    a, b = lines[:, 0], lines[:, 1]
    rise = b[:, 1] - a[:, 1]
    flat = np.abs(rise) < 1e-15
    share = (levels[:, None] - a[:, 1]) / np.where(flat, 1.0, rise)
    cross = np.where(
        ~flat & (share >= 0.0) & (share <= 1.0), a[:, 0] + share * (b[:, 0] - a[:, 0]), high
    )
    cross = np.sort(np.clip(cross, low, high), axis=1)
    middle = 0.5 * (cross[:, 1:] + cross[:, :-1])
    grid = low + (high - low) * (np.arange(48) + 0.5) / 48.0
    at = np.concatenate(
        [cross - 1e-7, cross + 1e-7, middle, np.broadcast_to(grid, (len(levels), len(grid)))],
        axis=1,
    )
    ends = np.broadcast_to([low - 1e-7, high + 1e-7], (len(levels), 2))
    at = np.sort(np.concatenate([at, ends], axis=1), axis=1)
    # places closer together than this are one place: ask only once
    ask = np.concatenate([np.ones((len(at), 1), bool), np.diff(at, axis=1) > 1e-12], axis=1)
    ask &= (at > low) & (at < high)
    v = np.broadcast_to(levels[:, None], at.shape)
    lit = np.zeros(at.shape, bool)
    lit[ask] = member(np.column_stack([at[ask], v[ask]]))
    # carry an answer over to the places that were not asked
    last = np.maximum.accumulate(np.where(ask, np.arange(at.shape[1]), 0), axis=1)
    inner = (at > low) & (at < high)
    lit = np.where(inner, np.take_along_axis(lit, last, axis=1), False)
    row, column = np.nonzero(lit[:, 1:] != lit[:, :-1])
    left, right = at[row, column].copy(), at[row, column + 1].copy()
    rising = lit[row, column + 1]
    for _ in range(60):
        wide = right - left > 4e-7
        if not wide.any():
            break
        mid = 0.5 * (left[wide] + right[wide])
        here = member(np.column_stack([mid, levels[row[wide]]]))
        same_as_right = here == rising[wide]
        right[wide] = np.where(same_as_right, mid, right[wide])
        left[wide] = np.where(same_as_right, left[wide], mid)
    place = np.clip(0.5 * (left + right), low, high)
    signed: Floats = np.where(rising, -place, place)
    length = np.bincount(row, signed, minlength=len(levels)).astype(float)
    return length, np.column_stack([place, levels[row]])
