"""The published numbers the simulator stands on, read from shared/published: sizes, arch form, attenuation."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from app.core.teeth import Tooth, arch, is_primary, ordinal

PUBLISHED = Path(__file__).resolve().parents[3] / "shared" / "published"

EDGE_TO_CONTACT_MM = 2.4
"""How far the contact of two teeth lies from their biting edge, in mm (from memory, rounded for all teeth)."""


def _table(name: str) -> Any:
    return json.loads((PUBLISHED / f"{name}.json").read_text(encoding="utf-8"))


@dataclass(frozen=True, kw_only=True)
class ToothSize:
    """Average size of one kind of tooth, all lengths in mm (shared/published/tooth_sizes.json).

    Parameters
    ----------
    palatal_root_mm : length of the palatal root where it differs from the others
    lean_deg : crown outward of its root; minus inward
    tip_deg : crown forward of its root
    """

    crown_mm: float
    root_mm: float
    mesiodistal_mm: float
    mesiodistal_neck_mm: float
    buccolingual_mm: float
    buccolingual_neck_mm: float
    lean_deg: float
    tip_deg: float
    palatal_root_mm: float | None = None


@dataclass(frozen=True, kw_only=True)
class Tissues:
    """Thicknesses in mm that are the same for every tooth (shared/published/tooth_sizes.json)."""

    enamel_side_mm: float
    enamel_cusp_mm: float
    enamel_primary_share: float
    ligament_mm: float
    lamina_dura_mm: float
    crest_below_neck_mm: float


@cache
def tooth_size(tooth: Tooth) -> ToothSize:
    """The average size of this kind of tooth."""
    kind = "primary" if is_primary(tooth) else "permanent"
    row = dict(_table("tooth_sizes")[kind][arch(tooth)][str(ordinal(tooth))])
    del row["grade"]
    return ToothSize(**row)


@cache
def tissues() -> Tissues:
    """Thicknesses of enamel, ligament and lamina dura, and the height of the crest."""
    row = dict(_table("tooth_sizes")["tissues"])
    del row["grade"]
    return Tissues(**row)


@cache
def arch_table() -> Any:
    """The beta function of the arch and what was measured on casts, as in shared/published/arch_curves.json."""
    return _table("arch_curves")


@cache
def receptor_sizes_mm() -> dict[int, tuple[float, float]]:
    """Short by long side of each nominal receptor size, in mm."""
    return {row["size"]: (float(row["short_mm"]), float(row["long_mm"])) for row in _table("receptors")["sizes"]}


def effective_energy_kev(kvp: float) -> float:
    """The one photon energy that stands for the spectrum of a tube at this peak voltage, in keV.

    Raises
    ------
    ValueError
        Outside the range of intraoral sets for which the tables hold (no K edge of a filling lies between).
    """
    rule = _table("attenuation")["effective_energy"]
    if not rule["least_kVp"] <= kvp <= rule["most_kVp"]:
        raise ValueError(f"kvp must lie from {rule['least_kVp']} to {rule['most_kVp']}; got {kvp}")
    return float(rule["keV_per_kVp"]) * kvp


@cache
def linear_attenuation_per_mm(kvp: float) -> dict[str, float]:
    """Linear attenuation coefficient of each material at the effective energy, in 1/mm.

    Interpolated log-log between the energies of the table, as attenuation tables are meant to be.
    """
    table = _table("attenuation")
    energy = np.log(effective_energy_kev(kvp))
    energies = np.log(np.asarray(table["energies_keV"], dtype=np.float64))
    return {
        key: float(np.exp(np.interp(energy, energies, np.log(row["mu_cm2_g"])))) * row["density_g_cm3"] / 10.0
        for key, row in table["materials"].items()
    }
