"""Networks of every kind of observation, solved by general libraries as well.

scipy.optimize.least_squares finds the places from a model written here, in geocentric
X, Y, Z (or a site's east, north, height) and with its own geodesy; statsmodels' GLS
with the full covariance gives what they are worth. Derivatives are numerical: complex
steps through the model, exact to rounding, so that every formula here is analytic.

The observations are made from a seeded truth by the same model; nothing of the tool
takes part but the columns that a network is kept in.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import least_squares
from statsmodels.regression.linear_model import GLS

from brasscap.adjust import estimate
from brasscap.networks import LocalFrame

A, E2 = 6378137.0, 0.006694380022903416
"""GRS 80: semi-major axis, m, and eccentricity squared (Moritz 1980)."""
RAY = 6371000.0
"""Radius that the refraction coefficient refers to, m, as the tool states it."""
ANGLES = ("direction", "angle", "azimuth", "zenith angle")


def geodetic(xyz):
    """Return latitude, longitude and height; a fixed point, two digits a step."""
    x, y, z = np.moveaxis(xyz, -1, 0)
    p = np.sqrt(x * x + y * y)
    latitude = np.arctan(z / p)
    for _ in range(8):
        sine = np.sin(latitude)
        latitude = np.arctan((z + E2 * A / np.sqrt(1 - E2 * sine**2) * sine) / p)
    sine, cosine = np.sin(latitude), np.cos(latitude)
    height = p * cosine + z * sine - A * np.sqrt(1 - E2 * sine**2)
    return latitude, np.arctan(y / x), height


def axes_at(network, xyz):
    """Return (n, 3, 3) east, north, up."""
    if isinstance(network.frame, LocalFrame):
        return np.broadcast_to(np.eye(3, dtype=xyz.dtype), (*xyz.shape, 3))
    latitude, longitude, _ = geodetic(xyz)
    sine, cosine = np.sin(latitude), np.cos(latitude)
    s, c, zero = np.sin(longitude), np.cos(longitude), 0 * sine
    rows = [
        [-s, c, zero],
        [-sine * c, -sine * s, cosine],
        [cosine * c, cosine * s, sine],
    ]
    return np.moveaxis(np.array(rows), (0, 1), (-2, -1))


def heights_at(network, xyz):
    local = isinstance(network.frame, LocalFrame)
    return xyz[..., 2] if local else geodetic(xyz)[2]


def turn_of(east, north):
    """Return the azimuth, analytic in every octant."""
    steep = np.abs(east.real) > np.abs(north.real)
    half = np.where(steep, np.sign(east.real) * np.pi / 2, np.pi * (north.real < 0))
    over = np.where(steep, -north, east) / np.where(steep, east, north)
    return half + np.arctan(over)


def sighted(network, xyz, axes, values, some):
    """Return what one kind of sight should read."""
    level = axes[some.at]

    def line(to, height):
        foot = xyz[some.at] + some.at_height[:, None] * level[:, 2]
        top = xyz[to] + height[:, None] * axes[to, 2]
        return np.moveaxis(np.einsum("nij,nj->ni", level, top - foot), -1, 0)

    padded = np.append(values, 0.0)
    first, second = padded[some.parameter].T
    east, north, up = line(some.to, some.to_height)
    flat = np.sqrt(east**2 + north**2)
    slope = np.sqrt(east**2 + north**2 + up**2)
    if some.kind == "direction":
        return turn_of(east, north) - first
    if some.kind == "angle":
        back_east, back_north, _ = line(some.back, some.back_height)
        return turn_of(east, north) - turn_of(back_east, back_north)
    if some.kind == "azimuth":
        return turn_of(east, north)
    if some.kind == "zenith angle":
        free = some.parameter[:, 0] >= 0
        k = np.where(free, first, some.refraction)
        return np.pi / 2 - np.arctan(up / flat) - k * slope / (2 * RAY)
    length = slope if some.kind == "slope distance" else flat
    return length * (1 + second) + first


def vectored(network, xyz, axes, values):
    """Return what the vectors should be, scaled and turned by their group."""
    v = network.vectors
    up = axes[:, 2]
    top = xyz[v.end] + v.end_offset[:, None] * up[v.end]
    delta = top - xyz[v.start] - v.start_offset[:, None] * up[v.start]
    scale, angle = np.append(values, 0.0)[v.parameter].T
    middle = xyz[: len(network.marks)].mean(axis=0)
    axis = axes_at(network, middle[None])[0, 2]
    along = (delta @ axis)[:, None] * axis
    turned = along + np.cos(angle)[:, None] * (delta - along)
    turned = turned + np.sin(angle)[:, None] * np.cross(axis, delta)
    return (1 + scale)[:, None] * turned


def levelled(network, xyz, values):
    some, height = network.levels, heights_at(network, xyz)
    padded = np.append(values, 0.0)
    fixed = np.stack([some.start_undulation, some.end_undulation], axis=1)
    undulation = np.where(some.parameter >= 0, padded[some.parameter], fixed)
    ends = np.stack([height[some.start], height[some.end]], axis=1) - undulation
    return ends[:, 1] - ends[:, 0]


def weighted_rows(network):
    return network.known.in_use("weighted")


def modelled(network, xyz, values):
    """Return what every row should read, kind by kind."""
    axes = axes_at(network, xyz)
    parts = []
    if len(network.vectors):
        parts.append(vectored(network, xyz, axes, values).ravel())
    parts += [sighted(network, xyz, axes, values, some) for some in network.sights]
    parts.append(levelled(network, xyz, values))
    at = network.positions.node
    top = xyz[at] + network.positions.offset[:, None] * axes[at, 2]
    off = top - network.positions.xyz
    parts.append(np.einsum("nij,nj->ni", axes[at], off).ravel())
    known, marks = network.known, len(network.marks)
    there = axes_at(network, known.xyz)
    local = np.einsum("nij,nj->ni", there, xyz[known.mark] - known.xyz)
    rise = heights_at(network, xyz[known.mark]) - heights_at(network, known.xyz)
    parts.append(np.stack([local[:, 0], local[:, 1], rise], 1)[weighted_rows(network)])
    over = network.set_ups.mark
    stood = np.einsum("nij,nj->ni", axes[over], xyz[marks:] - xyz[over])
    parts.append(stood[free_set_ups(network)].ravel())
    parts.append(values[np.isfinite(network.parameters.sd)])
    return np.concatenate(parts)


def booked(network):
    """Return what every row reads, in the order of the model."""
    parts = [network.vectors.delta.ravel()] if len(network.vectors) else []
    parts += [some.value for some in network.sights]
    parts.append(network.levels.rise)
    parts.append(np.zeros(3 * len(network.positions)))
    parts.append(np.zeros(weighted_rows(network).sum()))
    parts.append(np.zeros(3 * free_set_ups(network).sum()))
    parts.append(network.parameters.start[np.isfinite(network.parameters.sd)])
    return np.concatenate(parts)


def free_set_ups(network):
    return network.set_ups.sd_centring > 0


def whole(batches, count):
    made = np.zeros((count, 3, count, 3))
    for batch in batches:
        for members, matrix in zip(batch.members, batch.matrix, strict=True):
            size = len(members)
            at = np.ix_(members, range(3), members, range(3))
            made[at] = matrix.reshape(size, 3, size, 3)
    return made.reshape(3 * count, 3 * count)


def covariance_of(network):
    """Return the full covariance of every row."""
    parts = []
    if len(network.vectors):
        parts.append(whole(network.vectors.covariances, len(network.vectors)))
    parts += [np.diag(some.sd**2) for some in network.sights]
    parts.append(np.diag(network.levels.sd**2))
    parts.append(whole(network.positions.covariances, len(network.positions)))
    rows = weighted_rows(network).ravel()
    of_known = whole(network.known.covariances, len(network.known))
    parts.append(of_known[np.ix_(rows, rows)])
    s = network.set_ups
    sds = np.stack([s.sd_centring, s.sd_centring, s.sd_height], axis=1)
    parts.append(np.diag(sds[free_set_ups(network)].ravel() ** 2))
    parts.append(
        np.diag(network.parameters.sd[np.isfinite(network.parameters.sd)] ** 2)
    )
    size = sum(len(part) for part in parts)
    made, at = np.zeros((size, size)), 0
    for part in parts:
        made[at : at + len(part), at : at + len(part)] = part
        at += len(part)
    return made


def angular_rows(network):
    """Return which rows go round a circle."""
    parts = [np.zeros(3 * len(network.vectors), dtype=bool)]
    parts += [np.full(len(some), some.kind in ANGLES) for some in network.sights]
    done = sum(len(part) for part in parts)
    return np.concatenate([*parts, np.zeros(len(booked(network)) - done, dtype=bool)])


def apart(network, xyz, values):
    """Return booked minus modelled, angles between −π and π."""
    difference = booked(network) - modelled(network, xyz, values)
    round_ = np.where(angular_rows(network), np.round(difference.real / 2 / np.pi), 0.0)
    return difference - 2 * np.pi * round_


def observed(network, places, rng):
    """Return the network with values scattered about the truth by its covariances."""
    marks = network.set_ups.mark
    s = network.set_ups
    sds = np.stack([s.sd_centring, s.sd_centring, s.sd_height], axis=1)
    off = sds * rng.normal(size=sds.shape)
    stood = places[marks] + np.einsum(
        "nij,ni->nj", axes_at(network, places[marks]), off
    )
    start, sd = network.parameters.start, network.parameters.sd
    truth = np.where(np.isnan(start), rng.uniform(0, 6, len(start)), start)
    truth = truth + np.nan_to_num(sd) * rng.normal(size=len(sd))
    xyz = np.concatenate([places, stood])
    at, lower = network.positions.node, np.linalg.cholesky(covariance_of(network))
    rows = modelled(network, xyz, truth)
    rows = rows + lower @ rng.normal(size=len(rows))
    axes = axes_at(network, xyz)[at]
    top = xyz[at] + network.positions.offset[:, None] * axes[:, 2]
    off = 6e-3 * rng.normal(size=top.shape)
    positions = replace(network.positions, xyz=top + off)
    count = 3 * len(network.vectors)
    vectors = replace(network.vectors, delta=rows[:count].reshape(-1, 3))
    sights = []
    for some in network.sights:
        value = rows[count : count + len(some)]
        turns = 2 * np.pi if some.kind in ANGLES else np.inf
        sights.append(replace(some, value=np.mod(value, turns)))
        count += len(some)
    levels = replace(network.levels, rise=rows[count : count + len(network.levels)])
    return replace(
        network,
        vectors=vectors,
        positions=positions,
        sights=tuple(sights),
        levels=levels,
    )


class Unknowns:
    """Which coordinates and values are asked for, and where the search starts."""

    def __init__(self, network, xyz, values):
        self.network, self.xyz, self.values = network, xyz, values
        free = np.ones(xyz.shape, dtype=bool)
        known, marks = network.known, len(network.marks)
        held = known.in_use("held")
        for row in range(len(known)):
            free[known.mark[row]] &= ~held[row]
            self.xyz[known.mark[row], held[row]] = known.xyz[row, held[row]]
        if network.dimension == "height":
            free[:, :2] = False
        self.exact = np.flatnonzero(~free_set_ups(network))
        free[marks + self.exact] = False
        self.free, self.places = free, int(free.sum())

    def at(self, p):
        """Return places and values: coordinates in units of 1 km from the start."""
        xyz, values = self.xyz.astype(p.dtype), self.values + p[self.places :]
        xyz[self.free] += 1e3 * p[: self.places]
        marks = len(self.network.marks)
        xyz[marks + self.exact] = xyz[self.network.set_ups.mark[self.exact]]
        return xyz, values


def by_complex_steps(function, at):
    """Return the derivatives of an analytic function, exact to rounding."""
    columns = []
    for step in 1e-20j * np.eye(len(at)):
        columns.append(function(at + step).imag / 1e-20)
    return np.stack(columns, axis=1)


def solved(network, xyz, values):
    """Return places, values, vᵀPv, unknowns and design as scipy finds them."""
    unknowns = Unknowns(network, xyz.copy(), values.copy())
    inverse = np.linalg.inv(np.linalg.cholesky(covariance_of(network)))
    for _ in range(2):
        # Once more from there: coordinates are then offsets of nanometres.
        where = unknowns.at

        def left(p, where=where):
            return inverse @ apart(network, *where(p))

        found = least_squares(
            left,
            np.zeros(unknowns.places + len(values)),
            jac=lambda p, left=left: by_complex_steps(left, p),
            method="lm",
        )
        xyz, values = unknowns.at(found.x)
        unknowns = Unknowns(network, xyz, values)
    there = np.zeros(len(found.x))
    design = -by_complex_steps(lambda p: apart(network, *unknowns.at(p)), there)
    return xyz, values, 2 * found.cost, unknowns, design


def first_values(network, xyz):
    """Return where parameters start: their prior, or what a direction says."""
    values = network.parameters.start.copy()
    axes = axes_at(network, xyz)
    for some in network.sights:
        if some.kind == "direction":
            nothing = replace(some, parameter=np.full_like(some.parameter, -1))
            azimuth = sighted(network, xyz, axes, np.zeros(0), nothing)
            values[some.parameter[:, 0]] = azimuth - some.value
    return values


@pytest.fixture(scope="module")
def both(outline):
    """Return a network's adjustment by the tool and by scipy."""
    network = observed(*outline, np.random.default_rng(2024))
    marks = network.marks.approximate
    start = np.concatenate([marks, marks[network.set_ups.mark]])
    return estimate(network), solved(network, start, first_values(network, start))


ROUNDING = 1e-8
"""m: ten spacings of double-precision numbers at 6,400 km; 1e-9 of ten metres."""


def test_scipy_finds_the_same_places(both):
    """To 1e-9 of ten metres, and the same vᵀPv; parameters to a part of their sd."""
    adjustment, (xyz, values, cost, _, _) = both
    np.testing.assert_allclose(adjustment.nodes.xyz, xyz, rtol=0, atol=ROUNDING)
    marks = np.arange(len(xyz), len(xyz) + len(values))
    sd = np.sqrt(adjustment.covariance(marks, marks)[:, 0, 0])
    off = adjustment.nodes.values - values
    round_ = np.array(adjustment.network.parameters.kind) == "orientation"
    off[round_] = np.mod(off[round_] + np.pi, 2 * np.pi) - np.pi
    assert (np.abs(off) < 1e-5 * sd).all()
    # A residual of a millimetre is known to the rounding of coordinates.
    assert adjustment.vtpv == pytest.approx(cost, rel=2e-6, abs=0)


def test_residuals_are_those_of_the_model(both):
    """Adjusted minus observed, kind by kind, at scipy's places."""
    adjustment, (xyz, values, _, _, _) = both
    network = adjustment.network
    residuals = -apart(network, xyz, values)
    at = 3 * len(network.vectors)
    kinds = [("baseline", residuals[:at], ROUNDING)] if at else []
    shortest = 50.0
    for some in network.sights:
        near = ROUNDING / shortest if some.kind in ANGLES else ROUNDING
        kinds.append((some.kind, residuals[at : at + len(some)], near))
        at += len(some)
    rises = residuals[at : at + len(network.levels)]
    kinds.append(("level difference", rises, ROUNDING))
    for kind, theirs, near in kinds:
        ours = adjustment.residuals[kind].ravel()
        np.testing.assert_allclose(ours, theirs, rtol=0, atol=near, err_msg=kind)


def by_gls(network, xyz, values, unknowns, design):
    """Return GLS's fit of what is left, and the covariance of places, (N, 3, N, 3)."""
    scale = np.abs(design).max(axis=0)
    misclosure = apart(network, xyz, values)
    fit = GLS(misclosure, design / scale, sigma=covariance_of(network)).fit()
    own = fit.normalized_cov_params / scale / scale[:, None]
    spread = np.zeros((xyz.size, len(own)))
    columns = np.arange(unknowns.places)
    spread[np.flatnonzero(unknowns.free.ravel()), columns] = 1e3
    spread = spread.reshape(len(xyz), 3, -1)
    exact = unknowns.exact
    spread[len(network.marks) + exact] = spread[network.set_ups.mark[exact]]
    return fit, own, np.einsum("aik,kl,bjl->aibj", spread, own, spread)


def test_gls_gives_the_same_covariances(both):
    """Of all places with each other, to 1e-7 of the product of their sds."""
    adjustment, (xyz, values, _, unknowns, design) = both
    fit, own, theirs = by_gls(adjustment.network, xyz, values, unknowns, design)
    assert fit.df_resid == adjustment.degrees_of_freedom
    assert fit.scale == pytest.approx(adjustment.s0_sq, rel=2e-6, abs=0)
    count = len(xyz)
    grid = np.meshgrid(np.arange(count), np.arange(count), indexing="ij")
    first, second = (part.ravel() for part in grid)
    axes = adjustment.nodes.axes
    turned = axes[first] @ theirs[first, :, second] @ axes[second].swapaxes(1, 2)
    ours = adjustment.covariance(first, second)
    sd = np.sqrt(np.einsum("nii->ni", turned[first == second]))
    size = sd[first][:, :, None] * sd[second][:, None, :]
    assert (np.abs(ours - turned) <= 1e-7 * size).all()
    marks = np.arange(count, count + len(values))
    variances = np.diag(own)[unknowns.places :]
    ours = adjustment.covariance(marks, marks)[:, 0, 0]
    np.testing.assert_allclose(ours, variances, rtol=1e-7, atol=0)


def test_nothing_is_left_for_gls_to_move(both):
    """The places of the tool are a solution of the full linear system."""
    adjustment, (_, _, _, unknowns, design) = both
    here = adjustment.nodes
    fit, *_ = by_gls(adjustment.network, here.xyz, here.values, unknowns, design)
    scale = np.abs(design).max(axis=0)
    moved = np.abs(fit.params / scale)
    assert (1e3 * moved[: unknowns.places] < ROUNDING).all()
