"""One tooth as solids: enamel, dentine, roots, pulp and what surrounds the roots.

Built in the tooth's own axes with x toward the front of the mouth (mesial), b outward and a toward the root, in mm
from the middle of the neck. Cementum (about 0.1 mm, nearly as dense as dentine) is counted with the dentine.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from app.core.teeth import Tooth, arch, is_primary, ordinal
from app.imaging.simulator.profiles import Knots, crown_profile, cusp, heights_between, root_profile, smooth
from app.imaging.simulator.published import ToothSize, tissues
from app.imaging.simulator.solids import Floats, Loft


@dataclass(frozen=True, kw_only=True, eq=False)
class ToothShape:
    """The solids of one tooth in its own axes.

    Parameters
    ----------
    crown : outer form of the crown (union)
    core : dentine inside the crown (union), within ``crown``
    trunk : the undivided part below the neck
    roots : each root by its code
    pulp : chamber and canals
    apices : tip of each root, (x, b, a) in mm
    """

    size: ToothSize
    crown: tuple[Loft, ...]
    core: tuple[Loft, ...]
    trunk: Loft
    roots: Mapping[str, Loft]
    sockets: Mapping[float, tuple[Loft, ...]]
    chamber: Loft
    canals: tuple[Loft, ...]
    apices: Mapping[str, tuple[float, float, float]]

    @property
    def below_neck(self) -> tuple[Loft, ...]:
        """Trunk and roots."""
        return (self.trunk, *self.roots.values())


@dataclass(frozen=True, kw_only=True)
class _RootPlan:
    """Where a root stands, as shares of the widths at the neck, and how it runs.

    Parameters
    ----------
    x, b : of the middle at the start; ``to_x``, ``to_b`` at the apex
    wide, deep : half widths at the start
    """

    x: float
    b: float
    to_x: float
    to_b: float
    wide: float
    deep: float
    length: float = 1.0


# Shapes of roots from memory: upper molars spread three ways, lower molars stand one behind the other.
_SINGLE = _RootPlan(x=0.0, b=0.0, to_x=-0.08, to_b=0.0, wide=0.5, deep=0.5)
_PLANS: dict[str, dict[str, _RootPlan]] = {
    "upper": {
        "MB": _RootPlan(x=0.24, b=0.22, to_x=0.26, to_b=0.20, wide=0.24, deep=0.30, length=0.98),
        "DB": _RootPlan(x=-0.25, b=0.22, to_x=-0.28, to_b=0.22, wide=0.23, deep=0.26, length=0.95),
        "P": _RootPlan(x=-0.02, b=-0.24, to_x=-0.06, to_b=-0.36, wide=0.30, deep=0.26),
        "B": _RootPlan(x=0.0, b=0.22, to_x=-0.10, to_b=0.22, wide=0.40, deep=0.24),
    },
    "lower": {
        "M": _RootPlan(x=0.24, b=0.0, to_x=0.17, to_b=0.0, wide=0.23, deep=0.42),
        "D": _RootPlan(x=-0.25, b=0.0, to_x=-0.30, to_b=0.0, wide=0.22, deep=0.37, length=0.95),
        "L": _RootPlan(x=-0.24, b=-0.26, to_x=-0.26, to_b=-0.30, wide=0.16, deep=0.18, length=0.85),
        "B": _RootPlan(x=0.0, b=0.20, to_x=-0.06, to_b=0.20, wide=0.40, deep=0.24),
    },
}
_ELSEWHERE = {"MB": ("upper", "MB"), "DB": ("upper", "DB"), "P": ("upper", "P"), "L": ("lower", "L")}


def _plan(tooth: Tooth, code: str, count: int) -> _RootPlan:
    if count == 1:
        return _SINGLE
    jaw = _PLANS[arch(tooth)]
    if code in jaw:
        plan = jaw[code]
    elif code in ("M", "D"):
        plan = _PLANS["lower"][code]
    else:
        jaw_name, name = _ELSEWHERE.get(code, ("lower", "M"))
        plan = _PLANS[jaw_name][name]
    if code == "P" and count == 2:
        return replace(plan, wide=0.40, b=-0.22, to_b=-0.20, to_x=-0.08, deep=0.24)
    return plan


def tooth_shape(tooth: Tooth, size: ToothSize, roots: Sequence[str], *, scale: float = 1.0) -> ToothShape:
    """The solids of this tooth.

    Parameters
    ----------
    roots : codes of its roots
    scale : of all lengths, for a patient whose teeth are larger or smaller than the average
    """
    size = scaled(size, scale)
    crown, core = _crown(tooth, size, is_primary(tooth))
    furcation = 0.0 if len(roots) == 1 else 0.27 * size.root_mm
    plans = {code: _plan(tooth, code, len(roots)) for code in roots}
    ends = {code: _length(size, code) * plan.length for code, plan in plans.items()}

    def root(code: str, grow: float = 0.0) -> Loft:
        plan, wide, deep = plans[code], size.mesiodistal_neck_mm, size.buccolingual_neck_mm
        start = furcation * 0.55
        curve: Knots = ((0.0, plan.x * wide), (0.55, 0.5 * (plan.x + plan.to_x) * wide), (1.0, plan.to_x * wide))
        lean: Knots = (
            (0.0, plan.b * deep),
            (0.6, (0.35 * plan.b + 0.65 * plan.to_b) * deep),
            (1.0, plan.to_b * deep),
        )
        return root_profile(
            start, ends[code], curve, (plan.wide * wide, plan.deep * deep), lean,
            taper=0.66 if len(roots) == 1 else 0.5, grow_mm=grow,
        )  # fmt: skip

    def trunk(grow: float = 0.0) -> Loft:
        a = heights_between(0.0, furcation * (1.7 if arch(tooth) == "upper" else 1.25) + 1.0)
        share = a / a[-1]
        wide, deep = 0.5 * size.mesiodistal_neck_mm, 0.5 * size.buccolingual_neck_mm
        shallower, narrower = _parting(share, furcation > 0, upper=arch(tooth) == "upper")
        return Loft(
            start=0.0,
            centre_x=0.0 * a,
            centre_b=0.0 * a,
            half_x=(wide + grow) * (1.0 - 0.07 * share) * narrower,
            half_b=(deep + grow) * (1.0 - 0.07 * share) * shallower,
            power=2.3,
        )

    drawn = {code: root(code) for code in roots}
    ligament, lamina = tissues().ligament_mm, tissues().lamina_dura_mm
    apices = {
        code: (float(r.centre_x[-1]), float(r.centre_b[-1]), float(r.heights[-1])) for code, r in drawn.items()
    }
    return ToothShape(
        size=size,
        crown=crown,
        core=core,
        trunk=trunk(),
        roots=drawn,
        sockets={
            grow: (trunk(grow), *(root(code, grow) for code in roots)) for grow in (ligament, ligament + lamina)
        },
        chamber=_chamber(size, furcation, posterior=ordinal(tooth) >= 4),
        canals=tuple(_canal(r, len(roots)) for r in drawn.values()),
        apices=apices,
    )


def scaled(size: ToothSize, scale: float) -> ToothSize:
    """The size with every length multiplied."""
    palatal = size.palatal_root_mm
    return replace(
        size,
        crown_mm=size.crown_mm * scale,
        root_mm=size.root_mm * scale,
        mesiodistal_mm=size.mesiodistal_mm * scale,
        mesiodistal_neck_mm=size.mesiodistal_neck_mm * scale,
        buccolingual_mm=size.buccolingual_mm * scale,
        buccolingual_neck_mm=size.buccolingual_neck_mm * scale,
        palatal_root_mm=None if palatal is None else palatal * scale,
    )


def _length(size: ToothSize, code: str) -> float:
    if code == "P" and size.palatal_root_mm is not None:
        return size.palatal_root_mm
    return size.root_mm


def _parting(share: Floats, parts: bool, *, upper: bool) -> tuple[Floats, Floats]:
    """How the trunk grows shallower and narrower on the way to where the roots part."""
    if not parts:
        return np.ones_like(share), np.ones_like(share)
    if upper:
        return smooth(((0.0, 1.0), (0.2, 0.97), (0.6, 0.62), (1.0, 0.0)), share), 1.0 - 0.12 * share
    return smooth(((0.0, 1.0), (0.6, 0.97), (0.9, 0.7), (1.0, 0.0)), share), smooth(
        ((0.0, 1.0), (0.5, 0.95), (1.0, 0.35)), share
    )


def _crown(tooth: Tooth, size: ToothSize, primary: bool) -> tuple[tuple[Loft, ...], tuple[Loft, ...]]:
    thin = tissues().enamel_primary_share if primary else 1.0
    side, top = tissues().enamel_side_mm * thin, tissues().enamel_cusp_mm * thin
    outer = _crown_solids(tooth, size, size.crown_mm, 0.0)
    inner = _crown_solids(tooth, size, size.crown_mm - top, side)
    return outer, inner


def _crown_solids(tooth: Tooth, size: ToothSize, height: float, enamel: float) -> tuple[Loft, ...]:
    """The crown; with ``enamel`` > 0 the dentine under an enamel of that thickness and a lower height."""
    wide, deep = 0.5 * size.mesiodistal_mm, 0.5 * size.buccolingual_mm
    neck_x, neck_b = 0.5 * size.mesiodistal_neck_mm, 0.5 * size.buccolingual_neck_mm

    def x(*knots: tuple[float, float]) -> Knots:
        return tuple((at, _less(share * wide, at, enamel)) for at, share in knots)

    def b(*knots: tuple[float, float]) -> Knots:
        return tuple((at, _less(share * deep, at, enamel)) for at, share in knots)

    across, along = neck_x / wide, neck_b / deep
    place = ordinal(tooth)
    # Where teeth touch, as a share of the height measured to the biting edge.
    touch = min(0.78, max(0.5, 1.0 - 2.4 / size.crown_mm))
    if place <= 2:
        body = crown_profile(
            height,
            x((0.0, across), (0.35, 0.5 * (across + 1.0)), (touch, 1.0), (0.94, 0.965), (1.0, 0.9)),
            b((0.0, along), (0.22, 1.0), (0.55, 0.62), (0.85, 0.3), (1.0, 0.16)),
            top=1.0,
            dome_mm=0.7,
            power=2.1,
        )
        return (body,)
    if place == 3:
        body = crown_profile(
            height,
            x((0.0, across), (0.35, 0.5 * (across + 1.0)), (touch, 1.0), (0.86, 0.7), (1.0, 0.14)),
            b((0.0, along), (0.25, 1.0), (0.6, 0.62), (0.88, 0.26), (1.0, 0.14)),
            top=1.0,
            dome_mm=0.6,
            power=2.1,
        )
        return (body,)
    molar = place >= 6 or is_primary(tooth)
    body = crown_profile(
        height,
        x((0.0, across), (0.3, 0.45 * across + 0.55), (touch, 1.0), (0.84, 0.9), (1.0, 0.8)),
        b((0.0, along), (0.3, 1.0), (0.6, 0.93), (0.84, 0.74), (1.0, 0.6)),
        top=0.86 if molar else 0.82,
        dome_mm=1.3 if enamel == 0 else 2.4,
        power=2.5 if molar else 2.25,
    )
    return (body, *_cusps(tooth, wide, deep, height, enamel, molar))


def _less(half: float, share: float, enamel: float) -> float:
    """A half width under the enamel, which runs out to nothing at the neck."""
    return max(0.12, half - enamel * min(1.0, share / 0.45))


def _cusps(tooth: Tooth, wide: float, deep: float, height: float, enamel: float, molar: bool) -> tuple[Loft, ...]:
    slim = max(0.4, 1.0 - enamel * 0.34)
    if molar:
        places = [(0.44, 0.5, 1.0), (-0.42, 0.5, 0.97), (0.42, -0.48, 0.98), (-0.42, -0.46, 0.92)]
        radius = (0.52 * wide * slim, 0.48 * deep * slim)
    else:
        lingual = 0.90 if arch(tooth) == "upper" else 0.80
        places = [(0.0, 0.45, 1.0), (0.04, -0.45, lingual)]
        radius = (0.74 * wide * slim, 0.5 * deep * slim)
    return tuple(
        cusp(height * top, height * 0.58, (at_x * wide, at_b * deep), radius) for at_x, at_b, top in places
    )


def _chamber(size: ToothSize, furcation: float, *, posterior: bool) -> Loft:
    roof = -size.crown_mm * (0.36 if posterior else 0.55)
    floor = max(furcation * 0.75, 1.6)
    a = heights_between(roof, floor)
    share = (a - a[0]) / (a[-1] - a[0])
    wide = (0.19 if posterior else 0.15) * size.mesiodistal_neck_mm
    deep = (0.24 if posterior else 0.16) * size.buccolingual_neck_mm
    narrowing = smooth(((0.0, 0.75), (0.4, 1.0), (1.0, 0.72)), share) * smooth(
        ((0.0, 0.0), (0.18, 1.0), (1.0, 1.0)), share
    )
    if furcation > 0:
        narrowing = narrowing * smooth(((0.0, 1.0), (0.85, 1.0), (1.0, 0.0)), share)
    return Loft(
        start=float(a[0]), centre_x=0.0 * a, centre_b=0.0 * a, half_x=wide * narrowing, half_b=deep * narrowing
    )


def _canal(root: Loft, count: int) -> Loft:
    a = root.heights
    share = (a - a[0]) / (a[-1] - a[0])
    share_x, share_b = (0.13, 0.22) if count == 1 else (0.12, 0.25)
    fade = smooth(((0.0, 1.0), (0.6, 0.55), (0.94, 0.22), (1.0, 0.0)), share)
    return replace(root, half_x=share_x * root.half_x[0] * 1.2 * fade, half_b=share_b * root.half_b[0] * fade)
