"""Support of a tooth by its ligament: wrench, stiffness and pressure for a small motion in its socket.

A motion is q = (v, w): translation (mm) and rotation (rad) about the origin of the tooth frame, in its axes;
a root point r moves by u = v + w x r. Wrenches are dual: (force, moment about that origin), N and N.mm. The
wrench returned is what has to be applied to hold the motion (dE/dq); the ligament's own is its opposite.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from biomech.errors import InputError
from biomech.ligaments import Curve, Ligament, stiffening
from biomech.mechanics.links import Law, Response
from biomech.mechanics.poses import Array, hat
from biomech.tooth.roots import Surface

_BLOCK = 8  # variants handled at once by RootBed: its arrays then stay in the processor's cache


class Pressures(NamedTuple):
    """Normal pressure (..., P), compression of the ligament positive, and shear (..., P) >= 0, MPa."""

    normal: Array
    shear: Array


def motion_matrix(points: Array) -> Array:
    """Return B (..., 3, 6) with u = B q for points (..., 3): the identity beside -[r]x."""
    eye = np.broadcast_to(np.eye(3), (*points.shape[:-1], 3, 3))
    return np.concatenate([eye, -hat(points)], axis=-1)


def displacements(surface: Surface, q: Array) -> Array:
    """Return the displacements (..., P, 3) in mm of the surface's points for motions q (..., 6)."""
    return np.asarray(np.einsum("pij,...j->...pi", motion_matrix(surface.points), q))


def foundation_matrix(surface: Surface, normal_modulus: float, shear_modulus: float) -> Array:
    """Return the stiffness (6, 6) of a surface on springs kn (normal) and kt (tangential), N/mm3.

    About the frame origin, order (v, w); blocks in N/mm, N and N.mm; symmetric.
    """
    b = motion_matrix(surface.points)
    along = np.einsum("pi,pia->pa", surface.normals, b)
    isotropic = np.einsum("p,pia,pib->ab", surface.weights, b, b, optimize=True)
    normal = (surface.weights[:, None] * along).T @ along
    return np.asarray(shear_modulus * isotropic + (normal_modulus - shear_modulus) * normal)


@lru_cache(maxsize=512)
def support_matrix(surface: Surface, ligament: Ligament) -> Array:
    """Return the stiffness (6, 6), read only, of the unloaded tooth, see `foundation_matrix`; it acts with -K q."""
    out = foundation_matrix(surface, ligament.normal_modulus, ligament.shear_modulus)
    out.setflags(write=False)
    return out


def respond(surface: Surface, ligament: Ligament, q: Array, state: Any = None) -> Response:
    """Return wrench (..., 6), tangent (..., 6, 6) and state for motions q (..., 6) of one tooth."""
    b = motion_matrix(surface.points)
    u = np.einsum("pij,...j->...pi", b, q)
    reaction = ligament.respond(u, surface.normals, state)
    w = surface.weights
    wrench = -np.einsum("p,pia,...pi->...a", w, b, reaction.traction, optimize=True)
    tangent = np.einsum("p,pia,...pij,pjb->...ab", w, b, reaction.stiffness, b, optimize=True)
    return Response(wrench, tangent, reaction.state)


def energy(surface: Surface, ligament: Ligament, q: Array) -> Array:
    """Return the energy (...), N.mm, stored in the ligament of one tooth at motions q (..., 6)."""
    return np.asarray(ligament.energy(displacements(surface, q), surface.normals) @ surface.weights)


def pressures(surface: Surface, ligament: Ligament, q: Array, state: Any = None) -> Pressures:
    """Return normal pressure and shear (..., P) in MPa over the root for motions q (..., 6)."""
    traction = ligament.respond(displacements(surface, q), surface.normals, state).traction
    normal = -np.einsum("...pi,pi->...p", traction, surface.normals)
    along = traction + normal[..., None] * surface.normals
    return Pressures(normal, np.linalg.norm(along, axis=-1))


@dataclass(frozen=True)
class Ray:
    """A bed along motions s q with shares s (..., T) of q: all strains grow in proportion to s.

    The product `pull` of the points' matrices with q and the strains `strain` (T, B, P) at s = 1 are worked out once:
    a share costs one evaluation of the laws' curves. `shape` is that of q outside; teeth come first inside.
    """

    shape: tuple[int, ...]
    q: Array
    pull: Array
    strain: Array
    density: Array
    flat: Array
    curve: Callable[[Array], Curve]

    def work(self, share: Array) -> tuple[Array, Array]:
        """Return the work s q . wrench(s q), N.mm, and its slope in s, (..., T)."""
        law = self.curve(self._first(share) * self.strain)
        weight = self.density * self.strain * self.strain
        secant, slope = (weight * law.secant).sum(axis=-1), (weight * law.slope).sum(axis=-1)
        low = secant.T.reshape(share.shape)
        return share * share * low, share * (slope.T.reshape(share.shape) + low)

    def respond(self, share: Array) -> tuple[Array, Array]:
        """Return wrench (..., T, 6) and tangent (..., T, 6, 6) at s q."""
        s = self._first(share)
        law = self.curve(s * self.strain)
        tangent = ((self.density * law.secant) @ self.flat).reshape(*self.q.shape, 6)
        wrench = (tangent @ (s * self.q)[..., None])[..., 0]
        bend = self.density * stiffening(law, self.strain)  # the shares of strain and pull cancel
        if bend.any():
            tangent += np.swapaxes(self.pull * bend[..., None], -1, -2) @ self.pull
        return wrench.swapaxes(0, 1).reshape(self.shape), tangent.swapaxes(0, 1).reshape(*self.shape, 6)

    def _first(self, share: Array) -> Array:
        out: Array = share.reshape(-1, self.q.shape[0]).T[..., None]
        return out


class RootBed(Law):
    """The ligaments of T teeth as one law, for the "pose" link from each socket to its tooth.

    Teeth may differ in law and values. It uses that every law depends on the weighted strain alone: with the
    matrices M of its points, e^2 = q^T M q, so that a call costs three matrix products and one law evaluation
    per distinct ligament. Surfaces are padded to the longest with points of no weight.
    """

    def __init__(
        self,
        surfaces: Sequence[Surface],
        ligaments: Sequence[Ligament],
        stiffnesses: Sequence[Array | None] | None = None,
    ) -> None:
        """Take the surfaces (in tooth axes) and ligaments of T teeth; different counts raise InputError.

        A tooth with a stiffness (6, 6) of its own, from another model of its linear ligament, stands on that alone: it
        is one point with e^2 = q^T K q / (kn t^2). With a ligament that is not linear it raises InputError.
        """
        given = [None] * len(surfaces) if stiffnesses is None else list(stiffnesses)
        if not len(surfaces) == len(ligaments) == len(given) or not surfaces:
            raise InputError(f"{len(surfaces)} root surfaces, {len(ligaments)} ligaments; allowed: as many")
        sizes = [len(s.weights) if k is None else 1 for s, k in zip(surfaces, given, strict=True)]
        self._count, self._points = len(surfaces), max(sizes)
        forms = np.zeros((self._count, self._points, 6, 6))
        self._density = np.zeros((self._count, 1, self._points))
        for i, (surface, law, own) in enumerate(zip(surfaces, ligaments, given, strict=True)):
            scale = law.normal_modulus * law.thickness**2
            if own is not None:
                if not law.is_linear:
                    raise InputError(f"a stiffness given for a {law.name} ligament; allowed: for a linear one")
                forms[i, 0], self._density[i, 0, 0] = own / scale, scale
                continue
            b = motion_matrix(surface.points)
            form = np.swapaxes(b, 1, 2) @ law.weights(surface.normals) @ b / law.thickness**2
            n = len(surface.weights)
            forms[i, :n] = 0.5 * (form + np.swapaxes(form, 1, 2))
            self._density[i, 0, :n] = surface.weights * scale
        self._flat = forms.reshape(self._count, self._points, 36)
        self._maps = np.ascontiguousarray(forms.reshape(self._count, -1, 6).swapaxes(1, 2))
        self._stiffness: Array = (self._density @ self._flat).reshape(self._count, 6, 6)
        self._distinct = [(law, np.array([x == law for x in ligaments])) for law in dict.fromkeys(ligaments)]
        self._linear = all(law.is_linear for law in ligaments)

    @property
    def stiffness(self) -> Array:
        """Stiffness (T, 6, 6) of the unloaded teeth."""
        return self._stiffness

    def respond(self, strain: Array, state: Any = None) -> Response:
        """Return wrench (..., T, 6), tangent (..., T, 6, 6), state at motions q = `strain` (..., T, 6).

        When all teeth are linear the tangent comes once, as (T, 6, 6).
        """
        if self._linear:
            stress = (self._stiffness @ strain[..., None])[..., 0]
            return Response(stress, self._stiffness, state)
        q = strain.reshape(int(np.prod(strain.shape[:-2])), self._count, 6)
        wrench, tangent = np.empty(q.shape), np.empty((*q.shape, 6))
        room = np.empty((2, self._count * min(_BLOCK, len(q)) * self._points * 6))
        for start in range(0, len(q), _BLOCK):
            block = slice(start, start + _BLOCK)
            force, slope = self._respond(np.ascontiguousarray(q[block].swapaxes(0, 1)), room)
            wrench[block], tangent[block] = force.swapaxes(0, 1), slope.swapaxes(0, 1)
        return Response(wrench.reshape(strain.shape), tangent.reshape(*strain.shape, 6), state)

    def energy(self, strain: Array, state: Any = None) -> Array:
        """Return the stored energy (..., T), N.mm, at motions q = `strain` (..., T, 6)."""
        q = strain.reshape(int(np.prod(strain.shape[:-2])), self._count, 6).swapaxes(0, 1)
        _, e = self._pull(q, np.empty(q.shape[0] * q.shape[1] * self._points * 6))
        stored = (self._density * self._curve(e).energy).sum(axis=-1)
        return np.asarray(stored.swapaxes(0, 1).reshape(strain.shape[:-1]))

    def along(self, strain: Array) -> Ray:
        """Return the bed along the motions q = `strain` (..., T, 6)."""
        q = np.ascontiguousarray(strain.reshape(int(np.prod(strain.shape[:-2])), self._count, 6).swapaxes(0, 1))
        pull, e = self._pull(q, np.empty(q.size * self._points))
        return Ray(strain.shape, q, pull, e, self._density, self._flat, self._curve)

    def _respond(self, q: Array, room: Array) -> tuple[Array, Array]:
        """Return wrench and tangent with teeth first, for q (T, B, 6); `room` is working memory."""
        pull, e = self._pull(q, room[0])
        law = self._curve(e)
        tangent = ((self._density * law.secant) @ self._flat).reshape(*q.shape, 6)
        wrench = (tangent @ q[..., None])[..., 0]
        bend = self._density * stiffening(law, e)
        if bend.any():
            bent = np.multiply(pull, bend[..., None], out=room[1, : pull.size].reshape(pull.shape))
            tangent += np.swapaxes(bent, -1, -2) @ pull
        return wrench, tangent

    def _pull(self, q: Array, room: Array) -> tuple[Array, Array]:
        """Return M q (T, B, P, 6), kept in `room`, and the weighted strain e (T, B, P) for q (T, B, 6)."""
        size = q.shape[0] * q.shape[1] * self._points * 6
        pull = np.matmul(q, self._maps, out=room[:size].reshape(*q.shape[:2], self._points * 6))
        pull = pull.reshape(*q.shape[:2], self._points, 6)
        squared = (pull @ q[..., None])[..., 0]
        return pull, np.sqrt(np.maximum(squared, 0.0))

    def _curve(self, e: Array) -> Curve:
        if len(self._distinct) == 1:
            return self._distinct[0][0].curve(e)
        out = Curve(np.empty_like(e), np.empty_like(e), np.empty_like(e))
        for law, rows in self._distinct:
            for target, value in zip(out, law.curve(e[rows]), strict=True):
                target[rows] = value
        return out
