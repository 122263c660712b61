"""Vertices of edges with the directions of the curves that they stand for, and those of their
parallels before anything is mended."""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import steps, turned
from ..arrays.ragged import cumulative, group_index, offsets_of, place_in_group
from ..tuning import PARALLELS
from .lines import is_ring


@dataclass(frozen=True)
class EdgeVertices:
    """Vertices of edges without repeated ones, shape (v,). `arrive` and `leave`: directions of the
    curve at each vertex, radians, which differ at corners; `before` and `after`: lengths of the
    segments there. The last vertex of a ring is its first one again."""

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    closed: np.ndarray
    arrive: np.ndarray
    leave: np.ndarray
    before: np.ndarray
    after: np.ndarray

    @classmethod
    def of(cls, lines):
        """The vertices of lines that lie apart.

        Raises
        ------
        ValueError
            If an edge has no length.
        """
        first, last = lines.offsets[:-1], lines.offsets[1:] - 1
        closed = is_ring(lines)
        way = cumulative(lines.steps(), lines.offsets)
        run = group_index(lines.offsets)
        keep = np.append(True, lines.steps() > PARALLELS.same)[: len(way)]
        keep[first] = True
        near_end = (way[last][run] - way <= PARALLELS.same) & (np.arange(len(way)) != last[run])
        keep[near_end] = False
        keep[last] = True
        keep[first] = True
        size = np.bincount(run[keep], minlength=len(first))
        if (size < 2).any() or (way[last] <= PARALLELS.same).any():
            raise ValueError(
                f"{np.count_nonzero(way[last] <= PARALLELS.same)} edges have no length"
            )
        x, y, z = lines.x[keep], lines.y[keep], lines.z[keep]
        offsets = offsets_of(size)
        first, last = offsets[:-1], offsets[1:] - 1
        x[last[closed]], y[last[closed]] = x[first[closed]], y[first[closed]]
        angle = np.append(np.arctan2(np.diff(y), np.diff(x)), 0.0)
        step = steps(x, y, offsets)
        leaving, arriving = np.arange(len(x)), np.arange(len(x)) - 1
        leaving[last] = np.where(closed, first, last - 1)
        arriving[first] = np.where(closed, last - 1, first)
        return cls(
            x, y, z, offsets, closed, angle[arriving], angle[leaving], step[arriving], step[leaving]
        )

    @property
    def deflection(self):
        """Angle by which the line turns at each vertex, + to the left, radians; 0 at the ends of
        open edges."""
        return np.angle(np.exp(1j * (self.leave - self.arrive)))

    def densified(self, distance, tolerance):
        """The same with the directions of the curves that the vertices stand for, and with vertices
        added on arcs whose parallel is wider.

        A segment between smooth vertices stands for an arc that turns by the mean of their
        deflections, if its sagitta L φ / 8 is within the tolerance (times
        `PARALLELS.sagitta_slack`). The sagitta of the parallel, r φ² / 8 with its own radius r,
        must be so as well.
        """
        run = group_index(self.offsets)
        first, last = self.offsets[:-1], self.offsets[1:] - 1
        phi, radius, number = self._arcs(run, distance, tolerance)
        of = np.repeat(np.arange(len(phi)), number)
        grown = offsets_of(number)
        share = place_in_group(grown) / number[of]
        after = np.minimum(of + 1, len(phi) - 1)
        psi = (share - 0.5) * phi[of]
        heading = self.leave[of]
        with np.errstate(invalid="ignore"):
            along, bulge = (
                radius[of] * (np.sin(psi) + np.sin(phi[of] / 2)),
                radius[of] * (np.cos(psi) - np.cos(phi[of] / 2)),
            )
        inner = share > 0
        dx, dy = turned(np.where(inner, along, 0.0), np.where(inner, -bulge, 0.0), heading)
        z = np.where(inner, self.z[of] + share * (self.z[after] - self.z[of]), self.z[of])
        # the curve arrives and leaves at its vertices turned by half of what the arcs turn
        place = np.arange(len(phi))
        starts = np.isin(place, first)
        before = np.where(starts, np.where(self.closed[run], last[run] - 1, 0), place - 1)
        phi_in = np.where(self._open_ends(run) & starts, 0.0, phi[before])
        phi_out = phi.copy()
        phi_out[last] = np.where(self.closed, phi[first], 0.0)
        tangent = heading + psi
        arrive = np.where(inner, tangent, (self.arrive + phi_in / 2)[of])
        leave = np.where(inner, tangent, (self.leave - phi_out / 2)[of])
        # an open end has one direction
        open_first, open_last = grown[first[~self.closed]], grown[last[~self.closed]]
        arrive[open_first], leave[open_last] = leave[open_first], arrive[open_last]
        size = self.after[of] / number[of]
        return EdgeVertices(
            x=self.x[of] + dx,
            y=self.y[of] + dy,
            z=z,
            offsets=grown[self.offsets],
            closed=self.closed,
            arrive=arrive,
            leave=leave,
            before=np.where(inner, size, (self.before / number[before])[of]),
            after=size,
        )

    def _open_ends(self, run):
        """True at the ends of edges that are no rings, shape (v,)."""
        end = np.zeros(len(run), bool)
        end[self.offsets[:-1]] = end[self.offsets[1:] - 1] = True
        return end & ~self.closed[run]

    def _arcs(self, run, distance, tolerance):
        """Of the segment from each vertex: the angle of its arc (0 for none), its radius, + to the
        left, and the number of segments that its parallel needs."""
        last, turn = self.offsets[1:] - 1, self.deflection
        smooth = np.abs(turn) <= PARALLELS.smooth_angle
        told = np.where(smooth & ~self._open_ends(run), turn, np.nan)
        here, there = told[:-1], told[1:]
        with np.errstate(invalid="ignore"):
            both = np.where(here * there > 0, (here + there) / 2, 0.0)
            phi = np.where(np.isnan(here), there, np.where(np.isnan(there), here, both))
        phi = np.append(np.nan_to_num(phi), 0.0)
        phi[last] = 0.0
        length = np.where(np.isin(np.arange(len(turn)), last), 0.0, self.after)
        sagitta = PARALLELS.sagitta_slack * tolerance
        phi[np.abs(length * phi) / 8 > sagitta] = 0.0
        with np.errstate(divide="ignore", invalid="ignore"):
            radius = length / (2 * np.sin(phi / 2))
            wide = np.where(phi != 0, np.abs(radius + distance[run]) * phi**2 / 8, 0.0)
        grows = (phi != 0) & ((radius + distance[run]) * radius > 0)
        number = np.where(grows, np.maximum(np.ceil(np.sqrt(wide / sagitta)), 1), 1)
        return phi, radius, number.astype(np.int64)

    def rounded(self, distance, mitre_limit):
        """True at outside corners that are too sharp for a mitre."""
        turn = self.deflection
        return (
            (np.abs(turn) > PARALLELS.smooth_angle)
            & (turn * distance[group_index(self.offsets)] > 0)
            & (mitre_limit * np.cos(np.abs(turn) / 2) < 1)
        )

    def raw(self, distance, mitre_limit, tolerance, cut):
        """The parallel vertex by vertex, which may run into itself: x, y, z, offsets.

        With `cut`, an inside corner becomes a single vertex if its legs are long enough for that;
        otherwise it becomes two.
        """
        run = group_index(self.offsets)
        d = distance[run]
        turn = self.deflection
        smooth = np.abs(turn) <= PARALLELS.smooth_angle
        share = np.clip(self.before / np.maximum(self.before + self.after, 1e-12), 0.2, 0.8)
        outside = turn * d > 0
        half = np.abs(turn) / 2
        reach = 1 / np.maximum(np.cos(half), 1e-9)
        rounded = self.rounded(distance, mitre_limit)
        mitred = ~smooth & outside & ~rounded
        inside = ~smooth & ~outside
        cut_off = (
            inside
            & (
                np.abs(d) * np.tan(np.minimum(half, 1.5))
                < 0.5 * np.minimum(self.before, self.after)
            )
            & (half < 1.5)
            if cut
            else np.zeros(len(d), bool)
        )
        # as many vertices on a rounded corner as its sagitta needs
        fine = np.minimum(
            2 * np.arccos(np.clip(1 - tolerance / np.maximum(np.abs(d), tolerance), 0.0, 1.0)),
            PARALLELS.rounding_angle,
        )
        full = np.where(
            rounded,
            np.ceil(np.abs(turn) / np.maximum(fine, 1e-3)).astype(np.int64) + 1,
            np.where(inside & ~cut_off, 2, 1),
        )
        number = full.copy()
        last = self.offsets[1:] - 1
        number[last[self.closed]] = 1  # the first vertex of a ring has the others
        of = np.repeat(np.arange(len(d)), number)
        grown = offsets_of(number)
        full = full[of]
        at = np.where(
            full > 1,
            place_in_group(grown) / np.maximum(full - 1, 1),
            np.where(smooth, share, 0.5)[of],
        )
        angle = self.arrive[of] + at * turn[of]
        far = (d * np.where(mitred | cut_off, reach, 1.0))[of]
        x, y = self.x[of] + far * np.sin(angle), self.y[of] - far * np.cos(angle)
        return x, y, self.z[of], grown[self.offsets]
