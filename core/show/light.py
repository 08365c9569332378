"""How beads are lit, in linear light, for every picture of a braid.

A pixel is given by the normal of what is seen there: right, up, towards the viewer. The colour of
a bead that faces the viewer is left as it is, so a maker can trust what she sees there.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from ..arrays import Float32Array, Floats
from ..finish import Surfaces

Owners = npt.NDArray[np.int32]
Normals = tuple[Float32Array, Float32Array, Float32Array]

NOBODY = -1
THE_CORE = -2
"""Whose a pixel is that no bead covers."""

# Parts of one, choices of this project. Whatever they are, the colour of a bead that faces the
# viewer is as in the palette.
# Direction of the light: right, up, towards the viewer. Upper left, well in front of the braid.
_LIGHT = np.array([-0.46, 0.52, 0.72])
_AMBIENT = 0.34  # light from everywhere
_WRAP = 0.25  # how far the light reaches round the terminator
_GLOSS, _GLOSS_SQUARINGS = 0.35, 6  # strength and sharpness (2^6) of the highlight
_SHEEN, _SHEEN_SQUARINGS = 0.05, 3  # a wide, faint one, so that black beads show their form
_RIM = 0.45  # darkening of the outline
_CREVICE = 0.6  # darkening between the beads


def matt(normal: Normals) -> Float32Array:
    """Return how much of its colour each pixel sends to the viewer, between no other beads."""
    light = np.asarray(_LIGHT / np.linalg.norm(_LIGHT))
    gain: Float32Array = _diffuse(_dot(normal, light)) / _diffuse(light[2])
    edge = 1 - normal[2]
    gain *= 1 - np.float32(_RIM) * edge * edge
    return gain


def crevice(deep: Float32Array) -> Float32Array:
    """Return how much light reaches what lies deep between the beads; none is lost outside.

    Parameters
    ----------
    deep : array of float32
        How far below the outside of the braid, in diameters of a bead.
    """
    open_sky: Float32Array = 1 - np.float32(_CREVICE) * np.clip(deep * 1.6, 0, 1) ** 2
    return open_sky


def glossy(
    gain: Float32Array, normal: Normals, owner: Owners, surfaces: Surfaces | None
) -> tuple[Float32Array, list[Float32Array]]:
    """Return how much of its colour, and how much of the light's, each pixel sends.

    Parameters
    ----------
    gain : array of float32
        Of a matt bead there.
    normal : three arrays of float32
    owner : array of int32
        What is seen there: a row of `surfaces`, `THE_CORE` or `NOBODY`.
    surfaces : Surfaces, optional
        All are opaque without.

    Returns
    -------
    (array, list of three arrays)
        The light's comes as three planes, red, green and blue.
    """
    light = np.asarray(_LIGHT / np.linalg.norm(_LIGHT))
    facing = np.array([0.0, 0.0, 1.0])
    half = (light + facing) / np.linalg.norm(light + facing)
    mirrored = np.clip(_dot(normal, half), 0, 1)
    if surfaces is not None:
        return _finished(surfaces, gain, normal, owner, (mirrored, float(half[2])))
    gloss = _lobe(mirrored, float(half[2]), _GLOSS, _GLOSS_SQUARINGS)
    gloss += _lobe(mirrored, float(half[2]), _SHEEN, _SHEEN_SQUARINGS)
    gloss[owner < 0] = 0
    return gain, [gloss] * 3


def _finished(
    surfaces: Surfaces,
    gain: Float32Array,
    normal: Normals,
    owner: Owners,
    mirror: tuple[Float32Array, float],
) -> tuple[Float32Array, list[Float32Array]]:
    """The same for beads of several finishes; nothing changes where a bead faces the viewer.

    `mirror` is how far each pixel mirrors the lamp, and how far one would that faces the viewer.
    """
    # the core and nobody, -2 and -1, wrap round to two rows without finish; a part that no bead
    # has is left out
    gloss, sheen, tint, clear, glass, lining, rainbow, _ = (
        np.append(values, np.zeros(2, np.float32)).take(owner, mode="wrap")
        if values.any()
        else None
        for values in surfaces.T
    )
    light = np.zeros_like(gain)
    if gloss is not None:
        light += gloss * _lobe(*mirror, 1.0, _GLOSS_SQUARINGS)
    if sheen is not None:
        light += sheen * _lobe(*mirror, 1.0, _SHEEN_SQUARINGS)
    facing = np.clip(normal[2], 0, 1)
    rim = 1 - facing
    # what passes a clear bead has no shadow of its own
    if clear is not None:
        gain = gain + np.float32(0.5) * clear * (1 - gain)
    if lining is not None:
        gain = gain * (1 - lining * (1 - facing**4))
    glow = light if tint is None else light * (1 - tint)
    if glass is not None:
        glow = glow + glass * rim * rim * np.minimum(gain, 1)
    coloured = gain if tint is None else gain + light * tint
    if rainbow is None:
        return coloured, [glow] * 3
    hue = np.float32(2 * np.pi) * (np.float32(1.4) * rim + np.float32(0.25) * normal[0])
    planes = []
    for channel in range(3):
        turn = np.float32(2 * np.pi / 3 * channel)
        planes.append(
            glow + rainbow * rim * (np.float32(0.5) + np.float32(0.5) * np.cos(hue + turn))
        )
    return coloured, planes


def _dot(normal: Normals, vector: Floats) -> Float32Array:
    x, y, z = vector.astype(np.float32)
    product: Float32Array = normal[0] * x + normal[1] * y + normal[2] * z
    return product


def _diffuse(cosine: npt.ArrayLike) -> Float32Array:
    """Matt reflection, with some light from everywhere."""
    direct = (np.asarray(cosine, dtype=np.float32) + np.float32(_WRAP)) / np.float32(1 + _WRAP)
    reflected: Float32Array = np.float32(_AMBIENT) + np.float32(1 - _AMBIENT) * np.maximum(
        direct, 0
    )
    return reflected


def _lobe(mirrored: Float32Array, in_front: float, strength: float, squarings: int) -> Float32Array:
    """A highlight, less what of it would fall where the bead faces the viewer."""
    for _ in range(squarings):
        mirrored = mirrored * mirrored
    lobe = np.float32(strength) * (mirrored - np.float32(in_front ** (2**squarings)))
    clipped: Float32Array = np.maximum(lobe, 0)
    return clipped
