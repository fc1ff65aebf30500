"""What a tooth is made of, as layers: solids in which one material stands where another would.

A layer adds (coefficient of ``inside`` - coefficient of ``instead_of``) times the ray's length in its solids, so
nested solids need no subtraction: dentine instead of enamel inside the crown, pulp instead of dentine, and so on.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from app.core.dentition import ToothState
from app.core.teeth import ordinal
from app.imaging.simulator.mouth import IMPLANT_LENGTH_MM, PlacedTooth
from app.imaging.simulator.profiles import heights_between, rounded
from app.imaging.simulator.solids import Loft

DISPLACES_BONE = "displaces bone"
"""Name of the layer whose length is taken off the bone's."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Layer:
    """A union of solids.

    Parameters
    ----------
    inside, instead_of : materials of the attenuation table; None for nothing (air, or bone that is taken off)
    within : count only what also lies inside the union of these
    slices : how finely it is cut
    """

    solids: tuple[Loft, ...]
    inside: str | None
    instead_of: str | None = None
    within: tuple[Loft, ...] | None = None
    slices: int = 24
    name: str = ""


def layers_of(tooth: PlacedTooth) -> tuple[Layer, ...]:
    """The layers of one tooth, solids turned the way the tooth stands."""
    return tuple(_turned(layer, tooth) for layer in _layers(tooth) if layer.solids)


def _turned(layer: Layer, tooth: PlacedTooth) -> Layer:
    if tooth.mesial > 0:
        return layer
    within = None if layer.within is None else tuple(solid.mirrored() for solid in layer.within)
    return replace(layer, solids=tuple(solid.mirrored() for solid in layer.solids), within=within)


def _layers(tooth: PlacedTooth) -> Iterator[Layer]:
    if tooth.state is ToothState.IMPLANT:
        yield from _implant(tooth)
        return
    shape = tooth.shape
    if tooth.state is ToothState.PONTIC:
        yield Layer(solids=shape.crown, inside=_crown_material(tooth))
        return
    if tooth.state is not ToothState.ROOT_REMNANT:
        yield from _crown(tooth)
    top = 1.0 if tooth.state is ToothState.ROOT_REMNANT else -99.0
    above = _cut(shape.below_neck, top, tooth.crest)
    below = _cut(shape.below_neck, max(top, tooth.crest), 99.0)
    yield Layer(solids=above, inside="dentine", slices=22)
    yield Layer(solids=below, inside="dentine", instead_of="soft_tissue", slices=24)
    filled = "root_filling" in tooth.fillings
    # A filling stops a millimetre short of the apex, and the chamber over it is closed.
    canals = _cut(shape.canals, -99.0, shape.size.root_mm - 1.0) if filled else shape.canals
    pulp = _cut((shape.chamber, *canals), top, 99.0)
    yield Layer(solids=pulp, inside="root_filling" if filled else "soft_tissue", instead_of="dentine", slices=10)
    narrow, wide = sorted(shape.sockets)
    socket = _socket(tooth, wide)
    yield Layer(solids=socket, inside="cortical_bone", slices=22)
    # The bone's crest is level where the tooth leans: a little more is taken off, so that none is left over it.
    taken = _cut(shape.sockets[wide], tooth.crest - 2.0, 99.0)
    yield Layer(solids=taken, inside=None, name=DISPLACES_BONE, slices=12)
    yield Layer(solids=_socket(tooth, narrow), inside="soft_tissue", instead_of="cortical_bone", slices=22)


def _crown(tooth: PlacedTooth) -> Iterator[Layer]:
    shape = tooth.shape
    if "crown" in tooth.fillings or "ceramic_crown" in tooth.fillings:
        yield Layer(solids=shape.crown, inside=_crown_material(tooth))
        # Metal to the margin: the last millimetre over the neck is solid.
        yield Layer(solids=_cut(shape.core, -99.0, -0.9), inside="dentine", instead_of=_crown_material(tooth))
        return
    yield Layer(solids=shape.crown, inside="enamel", slices=30)
    yield Layer(solids=shape.core, inside="dentine", instead_of="enamel", slices=26)
    for material in ("metal", "resin"):
        if material in tooth.fillings:
            box = _cavity(tooth)
            filling = "amalgam" if material == "metal" else "resin"
            yield Layer(solids=(box,), inside=filling, instead_of="enamel", within=shape.crown, slices=20)
            yield Layer(solids=(box,), inside="enamel", instead_of="dentine", within=shape.core, slices=20)
    if tooth.state is ToothState.UNERUPTED:
        # The follicle: a soft space around a crown still in the bone.
        space = tuple(_grown(solid, 0.9) for solid in shape.crown)
        yield Layer(solids=space, inside="cortical_bone", name=DISPLACES_BONE)
        yield Layer(solids=space, inside="soft_tissue", instead_of="cortical_bone")


def _crown_material(tooth: PlacedTooth) -> str:
    return "zirconia" if "ceramic_crown" in tooth.fillings else "gold"


def _cavity(tooth: PlacedTooth) -> Loft:
    """A prepared box: in a back tooth through the biting surface and one side, in front a round hole."""
    size = tooth.shape.size
    if ordinal(tooth.tooth) <= 3:
        a = heights_between(-0.75 * size.crown_mm, -0.35 * size.crown_mm)
        swell = rounded(a - a[0], 1.2) * rounded(a[-1] - a, 1.2)
        return Loft(
            start=float(a[0]), centre_x=0.0 * a - 0.34 * size.mesiodistal_mm, centre_b=0.0 * a,
            half_x=0.13 * size.mesiodistal_mm * swell, half_b=0.16 * size.buccolingual_mm * swell,
        )  # fmt: skip
    a = heights_between(-0.9 * size.crown_mm, -0.36 * size.crown_mm)
    share = (a - a[0]) / (a[-1] - a[0])
    deep = share > 0.5
    # Above, a groove over the whole surface; below, only the box at the distal side.
    centre = np.where(deep, -0.36, -0.08) * size.mesiodistal_mm
    half = np.where(deep, 0.16, 0.44) * size.mesiodistal_mm
    return Loft(
        start=float(a[0]), centre_x=centre, centre_b=0.0 * a, half_x=half,
        half_b=0.0 * a + 0.19 * size.buccolingual_mm, power=6.0,
    )  # fmt: skip


def _implant(tooth: PlacedTooth) -> Iterator[Layer]:
    a = heights_between(0.0, IMPLANT_LENGTH_MM)
    thread = 0.14 * np.sin(2.0 * np.pi * a / 0.8) * (a > 1.2)
    radius = (2.05 - 0.02 * a + thread) * rounded(a[-1] - a, 1.0)
    fixture = Loft(start=0.0, centre_x=0.0 * a, centre_b=0.0 * a, half_x=radius, half_b=radius)
    post = heights_between(-0.5 * tooth.shape.size.crown_mm, 0.0)
    abutment = Loft(
        start=float(post[0]), centre_x=0.0 * post, centre_b=0.0 * post,
        half_x=1.6 + 0.06 * (post - post[0]), half_b=1.6 + 0.06 * (post - post[0]),
    )  # fmt: skip
    crown = _crown_material(tooth)
    yield Layer(solids=tooth.shape.crown, inside=crown)
    yield Layer(solids=tooth.shape.core, inside="acrylic", instead_of=crown)
    yield Layer(solids=(abutment,), inside="titanium", instead_of="acrylic", slices=16)
    yield Layer(solids=(fixture,), inside="titanium", slices=24)
    yield Layer(solids=(fixture,), inside=None, name=DISPLACES_BONE, slices=16)


def _socket(tooth: PlacedTooth, grow: float) -> tuple[Loft, ...]:
    return _cut(tooth.shape.sockets[grow], tooth.crest, 99.0)


def _cut(solids: Sequence[Loft], low: float, high: float) -> tuple[Loft, ...]:
    parts: Iterable[Loft | None] = (solid.between(low, high) for solid in solids)
    return tuple(part for part in parts if part is not None)


def _grown(solid: Loft, by_mm: float) -> Loft:
    return replace(solid, half_x=solid.half_x + by_mm, half_b=solid.half_b + by_mm)
