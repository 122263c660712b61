"""Joint least squares of tangents and arcs that join tangentially."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg.blas import dtbsv
from scipy.linalg.lapack import dpbtrf

from ..arrays.plane import distance
from ..arrays.ragged import (
    group_index,
    group_sum,
    offsets_from_starts,
    offsets_of,
    ranges,
    stretch_starts,
)
from ..tuning import ADJUSTMENT
from .primitives import Primitives, fit_lines

# rows and columns of the upper triangle of an element's normal matrix
PAIRS = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))


def _rows(*arrays):
    """Arrays of one shape as the rows of one array; for these short arrays `numpy.stack` costs more
    than the copying."""
    out = np.empty((len(arrays), len(arrays[0])))
    for row, values in zip(out, arrays):
        row[:] = values
    return out


def _terms(moments, primitives):
    """Sum of squared distances of each element, half its gradient (3, e) and the upper triangle of
    its normal matrix (6, e).

    The unknowns are a shift to the left, a turn to the left, and a change of curvature.
    """
    sx, sy, xx, xy, yy, z, xz, yz, zz = moments.about(primitives.x, primitives.y)
    ux, uy, k = primitives.ux, primitives.uy, primitives.curvature
    st, sn = ux * sx + uy * sy, ux * sy - uy * sx
    tt, nn = (
        ux * ux * xx + 2 * ux * uy * xy + uy * uy * yy,
        uy * uy * xx - 2 * ux * uy * xy + ux * ux * yy,
    )
    tn = ux * uy * (yy - xx) + (ux * ux - uy * uy) * xy
    tz, nz = ux * xz + uy * yz, ux * yz - uy * xz
    chi = nn - k * nz + k * k * zz / 4
    half = nz - k * zz / 2
    gradient = _rows(k * (nn - k * nz / 2) - (sn - k * z / 2), k * tz / 2 - tn, -half / 2)
    normal = _rows(
        moments.w - 2 * k * sn + k * k * nn, st - k * tn, (z - k * nz) / 2, tt, tz / 2, zz / 4
    )
    return np.maximum(chi, 0.0), gradient, normal


def _joints(primitives, first, second):
    """Misclosures of tangential joints, m, and their derivatives by the unknowns of both elements,
    (3, j) each.

    Two elements have a common tangent if the centre of the more strongly curved one lies at its own
    radius from the other.
    """
    swap = np.abs(primitives.curvature[first]) > np.abs(primitives.curvature[second])
    round_one, other = np.where(swap, first, second), np.where(swap, second, first)
    k, ux, uy = primitives.curvature[round_one], primitives.ux[round_one], primitives.uy[round_one]
    r = 1 / k
    cx, cy = primitives.x[round_one] - uy * r, primitives.y[round_one] + ux * r
    ox, oy, vx, vy, other_curvature = (
        primitives.x[other],
        primitives.y[other],
        primitives.ux[other],
        primitives.uy[other],
        primitives.curvature[other],
    )
    arc = other_curvature != 0
    s = np.where(arc, 1 / np.where(arc, other_curvature, 1.0), 0.0)
    dx, dy = cx - (ox - vy * s), cy - (oy + vx * s)  # from the other's centre, or from its point
    away = np.maximum(distance(dx, dy), 1e-12)
    side = np.sign(s)
    mx, my = np.where(arc, -side * dx / away, -vy), np.where(arc, -side * dy / away, vx)
    signed = np.where(arc, s - side * away, vx * dy - vy * dx)
    miss = signed - r
    # a centre moves by n for a shift, by -u r for a turn, by -n r^2 for the curvature
    mn, mu = mx * -uy + my * ux, mx * ux + my * uy
    own = _rows(mn, -mu * r, (1 - mn) * r * r)
    on, ou = mx * -vy + my * vx, mx * vx + my * vy
    t = vx * (cx - ox) + vy * (cy - oy)
    theirs = _rows(-on, np.where(arc, ou * s, -t), (on - 1) * s * s)  # s is 0 for a tangent
    return miss, np.where(swap, own, theirs), np.where(swap, theirs, own)


def recentre(primitives, moments):
    """Move the point of each element to the foot of the mean of its positions.

    Parameters
    ----------
    primitives : Primitives
    moments : Moments
        Of the positions of each element.

    Returns
    -------
    Primitives
    """
    some = moments.w > 0
    x, y = (
        (moments.x, moments.y)
        if some.all()
        else (np.where(some, moments.x, primitives.x), np.where(some, moments.y, primitives.y))
    )
    return Primitives(*primitives.foot(x, y, slice(None)), primitives.curvature)


def _slots(offsets, closed):
    """Place of each element in the system of equations, and the greatest distance in places between
    neighbours.

    A ring is laid out as 0, last, 1, last but one...: neighbours are then at most two places apart.
    """
    count = int(offsets[-1])
    slot = np.arange(count)
    if closed is None or not closed.any():
        return slot, 1
    chain = group_index(offsets)
    size = np.diff(offsets)[chain]
    k = slot - offsets[:-1][chain]
    folded = np.where(2 * k < size, 2 * k, 2 * (size - k) - 1)
    return np.where(closed[chain], offsets[:-1][chain] + folded, slot), 2


@dataclass(frozen=True)
class Adjusted:
    """Adjusted elements; `chi`, shape (elements,), are their sums of squared distances in units of
    variance."""

    primitives: Primitives
    chi: np.ndarray


def adjust(moments, primitives, smooth, offsets, closed=None, curvatures=None, rounds=None):
    """Adjust all elements of all chains together.

    Parameters
    ----------
    moments : Moments
        Of the positions of each element, weights 1 / variance.
    primitives : Primitives
        First estimates. Tangents stay tangents, and arcs keep the side to which they bend.
    smooth : ndarray of bool, shape (elements,)
        The joint after the element is tangential. Ignored for the last element of an open chain;
        must be False between two tangents.
    offsets : ndarray of int, shape (chains + 1,)
    closed : ndarray of bool, shape (chains,), optional
        The last element is joined to the first one.
    curvatures : tuple of float, optional
        Minimum and maximum curvature of arcs, 1/m; by default those of `tuning.ADJUSTMENT`.
    rounds : tuple of int, optional
        Maximum number of steps at each of `ADJUSTMENT.joint_sigmas`; by default
        `ADJUSTMENT.cold_rounds`.

    Returns
    -------
    Adjusted

    Raises
    ------
    numpy.linalg.LinAlgError
        If the normal matrix is not positive definite; its damping makes it so.

    Notes
    -----
    Gauss-Newton steps, damped chain by chain (Levenberg 1944, Marquardt 1963), with analytic
    derivatives; tangential joints are observations of high weight. Positions enter through their
    moments only. Elements that no tangential joint links are independent; all others form one
    banded system.
    """
    rounds = ADJUSTMENT.cold_rounds if rounds is None else rounds
    if curvatures is None:
        curvatures = ADJUSTMENT.min_curvature, ADJUSTMENT.max_curvature
    count = len(primitives)
    if not count:
        return Adjusted(primitives, np.zeros(0))
    lone, linked = _groups(moments, primitives, smooth, offsets, closed, curvatures)
    primitives = Primitives.where(lone, fit_lines(moments, primitives), primitives)
    chi = np.zeros(count)
    chi[lone] = moments.line_sum()[lone]
    for rest, groups in linked:
        solved, chi[rest] = groups.solve(rounds)
        primitives = primitives.put(rest, solved)
    return Adjusted(primitives, chi)


def _groups(moments, primitives, smooth, offsets, closed, limits):
    """Tangents that depend on no other element (mask), and the other elements: a list of their
    indices and of them as `_Linked`."""
    count = len(primitives)
    filled = np.diff(offsets) > 0
    last = np.zeros(count, bool)
    last[offsets[1:][filled] - 1] = True
    ring = np.zeros(count, bool)
    if closed is not None:
        ring = (closed & (np.diff(offsets) > 1))[group_index(offsets)]
    # a ring is one group; elsewhere tangential joints link
    ends = last | (~smooth & ~ring)
    group = offsets_of(ends)[:-1]
    lone = (np.bincount(group)[group] == 1) & ~primitives.is_arc
    linked = []
    # rings separately: their band is wider, and their presence must not change others' digits
    for closing in (False, True):
        rest = np.flatnonzero(~lone & (ring == closing))
        if rest.size:
            inside = offsets_from_starts(stretch_starts(group[rest]))
            own = moments.take(rest)
            linked.append(
                (
                    rest,
                    _Linked(
                        own,
                        recentre(primitives.take(rest), own),
                        smooth[rest],
                        inside,
                        ring[rest],
                        limits,
                    ),
                )
            )
    return lone, linked


def covariances(moments, primitives, smooth, offsets, closed=None, shared=None):
    """Covariances of adjusted elements.

    Parameters
    ----------
    moments, primitives, smooth, offsets, closed
        As in `adjust`; the elements as adjusted.
    shared : sequence of two ndarray of float, optional
        For several correlated noises: covariance of the right-hand side of the normal equations, of
        each element and of each with the next one, shape (noises, elements, 3, 3) each. By default
        the noise is independent and as the weights say.

    Returns
    -------
    ndarray of float, shape (elements, 3, 3) or (noises, elements, 3, 3)
        Of shift and turn at the element's point, and of its curvature; m, rad, 1/m. 0 for the
        curvature of a tangent.
    """
    out = np.zeros((len(primitives), 3, 3))
    if not len(primitives):
        return out if shared is None else np.zeros_like(shared[0])
    lone, linked = _groups(moments, primitives, smooth, offsets, closed, (0.0, np.inf))
    _, _, normal = _terms(moments, primitives)
    det = normal[0] * normal[3] - normal[1] ** 2 + 1e-12
    alone = np.flatnonzero(lone)
    out[alone, 0, 0], out[alone, 1, 1] = (normal[3] / det)[alone], (normal[0] / det)[alone]
    out[alone, 0, 1] = out[alone, 1, 0] = (-normal[1] / det)[alone]
    if shared is not None:
        inverse, out = out[alone], np.zeros((len(shared[0]), *out.shape))
        out[:, alone] = inverse @ shared[0][:, alone] @ inverse
    for rest, groups in linked:
        of_rest = None if shared is None else [values[:, rest] for values in shared]
        out[..., rest, :, :] = groups.covariances(1 / ADJUSTMENT.covariance_joint_sigma**2, of_rest)
    # the curvature of a tangent is no unknown
    out[..., ~primitives.is_arc, 2, :] = out[..., ~primitives.is_arc, :, 2] = 0.0
    return out


class _Linked:
    """Groups of elements that depend on each other; their points are at the mean of their
    positions."""

    def __init__(self, moments, primitives, smooth, offsets, ring, limits):
        self.moments, self.smooth, self.offsets, self.ring, self.limits = (
            moments,
            smooth,
            offsets,
            ring,
            limits,
        )
        # known: terms and joints of these primitives, once computed
        self.primitives, self.known = primitives, None
        self.arc = primitives.is_arc
        count = len(primitives)
        self.owner = group_index(offsets)
        self.damping = np.full(len(offsets) - 1, ADJUSTMENT.first_damping)
        following = np.arange(1, count + 1)
        joined = smooth.copy()
        last = offsets[1:] - 1
        joined[last] &= ring[last]
        following[last] = np.where(ring[last], offsets[:-1], 0)
        self.first = np.flatnonzero(joined)
        self.second = following[self.first]
        slot, self.apart = _slots(offsets, ring[offsets[:-1]])
        # without rings the elements stay in their order
        self.slot, self.order = (slice(None),) * 2 if self.apart == 1 else (slot, np.argsort(slot))

    def solve(self, rounds):
        """Adjusted elements and their sums of squares."""
        for sigma, number in zip(ADJUSTMENT.joint_sigmas, rounds):
            if number:
                self._stage(1 / sigma**2, number)
        (chi, *_), _ = self._seen()
        return self.primitives, chi

    def covariances(self, weight, shared=None):
        """Covariance of the unknowns of each element; `shared` and the shape as in the function of
        this name.

        Block elimination forward and back, all groups in step. A ring is laid out three times in a
        row and the middle lap is read: what lies a lap away has hardly any influence.
        """
        size = np.diff(self.offsets)
        laps = np.where(self.ring[self.offsets[:-1]], 3, 1)
        # element at each place of the layout
        place = ranges(np.repeat(self.offsets[:-1], laps), np.repeat(size, laps))
        bounds = offsets_of(size * laps)
        block, coupling = self._layout(place, bounds, weight)
        order = np.argsort(-np.diff(bounds), kind="stable")
        first, length = bounds[:-1][order], np.diff(bounds)[order]
        # groups longer than k
        active = [int(np.searchsorted(-length, -k, "left")) for k in range(int(length.max()) + 1)]
        steps = [first[:number] + k for k, number in enumerate(active[:-1])]
        after = [first[:number] + k for k, number in enumerate(active[1:])]
        if shared is None:
            inverse = _invert(block, coupling, steps, after)
        else:
            own, onward = (values[:, place] for values in shared)
            onward[:, bounds[1:] - 1] = 0.0
            inverse = _spread(block, coupling, own, onward, steps, after)
        start = bounds[:-1] + np.where(laps == 3, size, 0)
        return inverse[..., ranges(start, size), :, :]

    def _layout(self, place, bounds, weight):
        """Normal matrix of a layout: blocks on the diagonal, and blocks with the next place, shape
        (places, 3, 3) each."""
        _, _, normal = _terms(self.moments, self.primitives)
        count = len(self.arc)
        partner, joint = np.full(count, -1), np.full(count, -1)
        partner[self.first], joint[self.first] = self.second, np.arange(len(self.first))
        if len(self.first):
            _, a, b = _joints(self.primitives, self.first, self.second)
            a, b = a.copy(), b.copy()
            a[2] *= self.arc[self.first]
            b[2] *= self.arc[self.second]
        block = np.empty((len(place), 3, 3))
        for value, (i, j) in zip(normal, PAIRS):
            block[:, i, j] = block[:, j, i] = value[place]
        block[~self.arc[place], :, 2] = block[~self.arc[place], 2, :] = 0.0
        block[~self.arc[place], 2, 2] = 1.0
        block[:, [0, 1, 2], [0, 1, 2]] *= 1 + ADJUSTMENT.covariance_damping[0]
        block[:, [0, 1, 2], [0, 1, 2]] += ADJUSTMENT.covariance_damping[1]
        coupling = np.zeros((len(place), 3, 3))
        follows = np.ones(len(place), bool)
        follows[bounds[1:] - 1] = False
        here = np.flatnonzero(follows & (joint[place] >= 0))
        if here.size:
            u, v = a[:, joint[place[here]]].T, b[:, joint[place[here]]].T
            block[here] += weight * u[:, :, None] * u[:, None, :]
            block[here + 1] += weight * v[:, :, None] * v[:, None, :]
            coupling[here] = weight * u[:, :, None] * v[:, None, :]
        return block, coupling

    def _seen(self):
        """Terms and joints of the current elements."""
        if self.known is None:
            self.known = self._look(self.primitives)
        return self.known

    def _look(self, primitives):
        """Terms of elements, and joints: misclosures, and derivatives by the element before the
        joint and the one after it, placed at these elements, (3, elements) each.

        The curvature of a tangent is no unknown: its derivatives are 0, its diagonal element is 1.
        """
        _, gradient, normal = terms = _terms(self.moments, primitives)
        miss, by_first, by_second = _joints(primitives, self.first, self.second)
        by_first, by_second = self._at(self.first, by_first), self._at(self.second, by_second)
        for values in (gradient[2], normal[2], normal[4], by_first[2], by_second[2]):
            values *= self.arc
        normal[5][~self.arc] = 1.0
        return terms, (miss, by_first, by_second)

    def _at(self, elements, values):
        """Rows of values of some elements among those of all; 0 at the others."""
        out = np.zeros((len(values), len(self.arc)))
        for row, own in zip(out, values):
            row[elements] = own
        return out

    def _cost(self, seen, weight):
        """Sum of squares of each group, misclosures of joints included."""
        (chi, *_), (miss, *_) = seen
        return group_sum(chi, self.offsets) + np.bincount(
            self.owner[self.first], weight * miss**2, len(self.damping)
        )

    def _stage(self, weight, number):
        """At most `number` steps with joints of this weight."""
        best = self._cost(self._seen(), weight)
        active = np.ones(len(self.damping), bool)
        for left in range(number, 0, -1):
            step = self._step(*self._seen(), weight)
            trial = recentre(_move(self.primitives, step, self.arc, *self.limits), self.moments)
            seen = self._look(trial)
            total = self._cost(seen, weight)
            # a group that has come to rest stays as it is, whatever others still do
            better = (total <= best) & active
            done = np.where(
                better,
                best - total <= ADJUSTMENT.at_rest * (1 + best),
                self.damping >= ADJUSTMENT.max_damping,
            )
            self._damp(better, active)
            self._take_over(trial, seen, better)
            active &= ~done
            best = np.where(better, total, best)
            if not active.any():
                return
            if left > 1 and active.mean() < ADJUSTMENT.few_active:  # go on with those alone
                self._part(active, weight, left - 1)
                return

    def _damp(self, better, active):
        """Less damping for groups whose step helped, more for the other active ones (masks)."""
        less = np.maximum(self.damping / ADJUSTMENT.damping_factor, ADJUSTMENT.min_damping)
        more = np.minimum(self.damping * ADJUSTMENT.damping_factor, ADJUSTMENT.max_damping)
        self.damping = np.where(better, less, np.where(active, more, self.damping))

    def _take_over(self, trial, seen, better):
        """Take over the trial elements, with their terms and joints, of groups whose step helped
        (mask)."""
        if not better.all():
            stay = ~better[self.owner]
            of_joints = np.flatnonzero(stay[self.first])
            stay = np.flatnonzero(stay)
            trial = trial.put(stay, self.primitives.take(stay))
            (terms, (miss, *sides)), (old_terms, (old_miss, *old_sides)) = seen, self.known
            miss[of_joints] = old_miss[of_joints]
            for new, old in zip((*terms, *sides), (*old_terms, *old_sides)):
                for row, known in zip(np.atleast_2d(new), np.atleast_2d(old)):
                    row[stay] = known[stay]
        self.primitives, self.known = trial, seen

    def _part(self, active, weight, number):
        """At most `number` steps of the active groups (mask) alone."""
        index = np.flatnonzero(active[self.owner])
        size = np.diff(self.offsets)[active]
        part = _Linked(
            self.moments.take(index),
            self.primitives.take(index),
            self.smooth[index],
            offsets_of(size),
            self.ring[index],
            self.limits,
        )
        part.damping = self.damping[active]
        part._stage(weight, number)
        self.damping[active] = part.damping
        self.primitives, self.known = self.primitives.put(index, part.primitives), None

    def _step(self, terms, joints, weight):
        """Damped Gauss-Newton step, shape (3, elements)."""
        miss, by_first, by_second = joints
        count, half = len(self.arc), 3 * self.apart + 2
        pull = weight * miss[None]
        gradient = terms[1] + self._at(self.first, pull) * by_first
        gradient += self._at(self.second, pull) * by_second
        own, links = self.normal_matrix(terms, joints, weight)
        scale = 1 / np.sqrt(np.maximum(own[[0, 3, 5]], 1e-12))
        # Columns of the lower triangle in LAPACK's band storage, first as rows over all elements:
        # unknown, row from the diagonal down, element.
        columns = np.zeros((3, half + 1, count))
        columns[:, 0] = (1.0 + self.damping[self.owner])[self.order]
        for row, (i, j) in enumerate(PAIRS):
            if i < j:
                columns[i, j - i] = own[row] * (scale[i] * scale[j])
        for apart, link in enumerate(links, 1):
            link *= scale[:, None, :-apart] * scale[:, apart:]
            for i in range(3):
                row = 3 * apart - i
                columns[i, row : row + 3, :-apart] = link[i]
        # Dummy unknowns are added at both ends: a group's digits must not depend on whether it is
        # the first one. Before them is the work space of `_solve_banded`.
        size = 3 * count + 2 * half
        room, load = np.zeros((half + size, half + 1)), np.zeros(size)
        system = room[half:]
        system[:half, 0] = system[-half:, 0] = 1.0
        system[half:-half].reshape(count, 3, half + 1)[:] = columns.transpose(2, 0, 1)
        load[half:-half].reshape(count, 3)[:] = (-gradient[:, self.order] * scale).T
        out = _solve_banded(room, load)
        return (out[half:-half].reshape(count, 3).T * scale)[:, self.slot]

    def normal_matrix(self, terms, joints, weight):
        """Normal matrix by blocks, in the order of the slots.

        Returns
        -------
        own : ndarray of float, shape (6, slots)
            Upper triangles of the blocks on the diagonal, as in `PAIRS`.
        links : list of ndarray of float
            For slots one apart and, with rings, two apart: blocks above the diagonal, unknowns of
            the earlier slot by those of the later one, shape (3, 3, slots - apart).
        """
        _, by_first, by_second = joints
        own = terms[2].copy()
        # each element is the first one of at most one joint, and the second one of another
        for values in (by_first, by_second):
            weighted = weight * values
            for row, (i, j) in zip(own, PAIRS):
                row += weighted[i] * values[j]
        if self.apart == 1:
            return own, [weight * (by_first[:, None, :-1] * by_second[:, 1:])]
        return own[:, self.order], self._links_of_rings(by_first, by_second, weight)

    def _links_of_rings(self, by_first, by_second, weight):
        """The links of `normal_matrix` where rings are among the groups."""
        links = np.zeros((self.apart, 3, 3, len(self.arc)))
        one, other = self.slot[self.first], self.slot[self.second]
        block = weight * (by_first[:, None, self.first] * by_second[:, self.second])
        block = np.where(one < other, block, block.transpose(1, 0, 2)).transpose(2, 0, 1)
        at, seam = (np.abs(other - one) - 1, np.maximum(one, other)), self.second < self.first
        for some in (~seam, seam):  # the two elements of a ring of two meet twice
            links.transpose(0, 3, 1, 2)[at[0][some], at[1][some]] += block[some]
        return [link[:, :, apart:] for apart, link in enumerate(links, 1)]


def _turned(matrices):
    """Transposed matrices."""
    return matrices.swapaxes(-1, -2)


def _invert(block, coupling, steps, after):
    """Blocks on the diagonal of the inverse; `block` is overwritten.

    `steps`: for each step along the groups, the places of all groups that are long enough; `after`:
    those of them that another place follows.
    """
    inverse, gain = np.empty_like(block), np.empty_like(block)
    for k, at in enumerate(steps):
        if k:
            before = at - 1
            block[at] -= _turned(coupling[before]) @ gain[before]
        inverse[at] = np.linalg.inv(block[at])
        gain[at] = inverse[at] @ coupling[at]
    for at in reversed(after[:-1]):
        inverse[at] += gain[at] @ inverse[at + 1] @ _turned(gain[at])
    return inverse


def _spread(block, coupling, own, onward, steps, after):
    """Blocks on the diagonal of N^-1 Q N^-1, shape (noises, places, 3, 3), where N is the normal
    matrix and Q the covariance of the right-hand side: blocks `own` on the diagonal, `onward` with
    the next place, of that shape as well.

    This is the derivative of the inverse of N - h Q by h, at h = 0. So each step of `_invert` is
    taken together with its derivative (d_...) by h.
    """
    inverse, gain = np.empty_like(block), np.empty_like(block)
    d_block, d_inverse, d_gain = -own, np.empty_like(own), np.empty_like(own)
    for k, at in enumerate(steps):
        if k:
            before = at - 1
            back = _turned(coupling[before])
            block[at] -= back @ gain[before]
            d_block[:, at] -= back @ d_gain[:, before] - _turned(onward[:, before]) @ gain[before]
        inverse[at] = np.linalg.inv(block[at])
        d_inverse[:, at] = -inverse[at] @ d_block[:, at] @ inverse[at]
        gain[at] = inverse[at] @ coupling[at]
        d_gain[:, at] = d_inverse[:, at] @ coupling[at] - inverse[at] @ onward[:, at]
    for at in reversed(after[:-1]):
        there = inverse[at + 1]
        d_inverse[:, at] += gain[at] @ d_inverse[:, at + 1] @ _turned(gain[at])
        mixed = d_gain[:, at] @ there @ _turned(gain[at])
        d_inverse[:, at] += mixed + _turned(mixed)
        inverse[at] += gain[at] @ there @ _turned(gain[at])
    return d_inverse


def _solve_banded(room, load):
    """Solve a symmetric positive definite banded system by Cholesky factorisation.

    `room`, (half + n, half + 1): `half` rows of zeros, then the columns of the lower triangle, the
    diagonal first. It is overwritten, and so is `load`, (n,).

    The lower triangle is factorised in half the time of the upper one, to the same digits: its
    columns lie in one piece, so that OpenBLAS does not copy them. LAPACK's own solver (dpbtrs)
    substitutes back by dot products. With some kernels of OpenBLAS the order of their sums depends
    on memory alignment, so that a capture's digits would depend on what else is fitted with it.
    Substitution by columns has no such sums; back it needs the columns of the upper triangle.
    """
    size, half = len(load), room.shape[1] - 1
    factor, info = dpbtrf(room[half:].T, lower=True, overwrite_ab=True)
    if info:
        raise np.linalg.LinAlgError(
            "the normal matrix of tangents and arcs is not positive definite"
        )
    if not np.may_share_memory(factor, room):  # LAPACK's wrapper works in place as a rule
        room[half:] = factor.T
    # column j of the upper triangle is row j of the lower one: it ends at the diagonal, the first
    # place of row j, and comes from one row before and one place on at a time
    step = room.itemsize
    upper = np.lib.stride_tricks.as_strided(
        room.ravel()[half:], (size, half + 1), (step * (half + 1), step * half)
    )
    out = dtbsv(half, factor, load, lower=True, overwrite_x=True)
    return dtbsv(half, upper.copy().T, out, overwrite_x=True)


def _move(primitives, step, arc, min_curvature, max_curvature):
    """Elements after a step of shift, turn and change of curvature, each within its limits."""
    shift, turn, change = step
    most_turn, most_shift = ADJUSTMENT.max_turn, ADJUSTMENT.max_shift
    turn = np.minimum(np.maximum(turn, -most_turn), most_turn)  # np.clip takes twice as long
    shift = np.minimum(np.maximum(shift, -most_shift), most_shift)
    size = np.abs(primitives.curvature)
    side = np.sign(primitives.curvature)
    factor = ADJUSTMENT.max_curvature_factor
    curvature = np.minimum(
        np.maximum(size + side * change, np.maximum(size / factor, min_curvature)),
        np.minimum(np.maximum(factor * size, min_curvature), max_curvature),
    )
    c, s = np.cos(turn), np.sin(turn)
    return Primitives(
        primitives.x - primitives.uy * shift,
        primitives.y + primitives.ux * shift,
        primitives.ux * c - primitives.uy * s,
        primitives.uy * c + primitives.ux * s,
        np.where(arc, side * curvature, 0.0),
    )
