"""The pattern of faults in the demo.

Shares of reasons follow, roughly, a published study of 3,188 student periapicals (receptor placement 35 %, cone
cut 18 %, horizontal angle 17 %, vertical angle 14 %, upper molars worst; in shared/published/technique_errors.json
with its source). Operators' skill is invented.
"""

from __future__ import annotations

from random import Random

from app.core.exposures import Shortfall, ShortfallCode
from app.core.targets import Target, kind
from app.core.templates import Slot

_PERIAPICAL = (
    (ShortfallCode.APEX_CUT_OFF, 30),
    (ShortfallCode.CONE_CUT, 18),
    (ShortfallCode.OVERLAP, 17),
    (ShortfallCode.FORESHORTENED, 8),
    (ShortfallCode.ELONGATED, 6),
    (ShortfallCode.WRONG_REGION, 6),
    (ShortfallCode.BLURRED, 5),
    (ShortfallCode.TOO_LIGHT, 4),
    (ShortfallCode.ARTIFACT, 4),
    (ShortfallCode.CROWN_CUT_OFF, 2),
)
_BITEWING = (
    (ShortfallCode.OVERLAP, 55),
    (ShortfallCode.WRONG_REGION, 20),
    (ShortfallCode.CONE_CUT, 15),
    (ShortfallCode.BLURRED, 5),
    (ShortfallCode.ARTIFACT, 5),
)


def faults_of(slot: Slot, promised: tuple[Target, ...], skill: float, random: Random) -> tuple[Shortfall, ...]:
    """The shortfalls of one invented image: none, mostly."""
    chance = (1 - skill) * (1.8 if "molar" in slot.id and slot.kind == "periapical" else 1.0)
    if random.random() > chance or not promised:
        return ()
    table = _BITEWING if slot.kind == "bitewing" else _PERIAPICAL
    (code,) = random.choices([code for code, _ in table], [weight for _, weight in table])
    return (Shortfall(code=code, targets=_part_of(code, promised, random)),)


def _part_of(code: ShortfallCode, promised: tuple[Target, ...], random: Random) -> tuple[Target, ...] | None:
    """Most faults take only some of what the view promises."""
    if code is ShortfallCode.OVERLAP:
        concerned = [target for target in promised if kind(target) == "contact"]
    elif code in (ShortfallCode.APEX_CUT_OFF, ShortfallCode.FORESHORTENED, ShortfallCode.ELONGATED):
        concerned = [target for target in promised if kind(target) == "apex"]
    elif code is ShortfallCode.CONE_CUT:
        concerned = list(promised[: max(1, len(promised) // 3)])
    else:
        return None
    if not concerned:
        return None
    return tuple(concerned[: random.randint(1, len(concerned))])
