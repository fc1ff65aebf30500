"""Attenuation coefficients against xraylib (its own compilation of elements and its list of compounds).

Copied into shared/published/attenuation.json: mass attenuation with coherent scatter, composition and density.
"""

from __future__ import annotations

import numpy as np
import pytest
import xraylib

from app.imaging.simulator.published import effective_energy_kev, linear_attenuation_per_mm
from app.imaging.simulator.solids import Loft, RayGrid, path_mm
from tests.published.shared_files import published

TABLE = published("attenuation")
MATERIALS = TABLE["materials"]
KVP = (60.0, 65.0, 70.0)


def mass_attenuation(fractions: dict[str, float], kev: float) -> float:
    """cm2/g of a mixture, element by element."""
    return sum(
        part * xraylib.CS_Total(xraylib.SymbolToAtomicNumber(name), kev) for name, part in fractions.items()
    )


@pytest.mark.parametrize("name", MATERIALS)
def test_the_table_is_what_the_library_computes_from_the_composition(name):
    row = MATERIALS[name]
    expected = [mass_attenuation(row["mass_fractions"], float(kev)) for kev in TABLE["energies_keV"]]

    # Four digits are written down.
    assert row["mu_cm2_g"] == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("name", MATERIALS)
def test_the_fractions_of_a_mixture_make_a_whole(name):
    assert sum(MATERIALS[name]["mass_fractions"].values()) == pytest.approx(1.0, abs=2e-4)


@pytest.mark.parametrize(
    ("name", "listed"),
    [("soft_tissue", "Tissue, Soft (ICRP)"), ("cortical_bone", "Bone, Cortical (ICRP)")],
)
def test_tissues_of_the_librarys_list_are_taken_over_as_they_stand(name, listed):
    compound = xraylib.GetCompoundDataNISTByName(listed)
    kev = effective_energy_kev(65.0)
    expected = sum(
        part * xraylib.CS_Total(element, kev)
        for element, part in zip(compound["Elements"], compound["massFractions"], strict=True)
    )

    # Interpolation between energies 5 keV apart, log-log: a few parts in a thousand.
    assert linear_attenuation_per_mm(65.0)[name] * 10 == pytest.approx(expected * compound["density"], rel=0.01)


@pytest.mark.parametrize("kvp", KVP)
@pytest.mark.parametrize("name", MATERIALS)
def test_the_linear_coefficient_at_the_effective_energy_follows_the_library(name, kvp):
    row = MATERIALS[name]
    expected = mass_attenuation(row["mass_fractions"], effective_energy_kev(kvp)) * row["density_g_cm3"] / 10

    assert linear_attenuation_per_mm(kvp)[name] == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize("kvp", KVP)
def test_denser_tissue_attenuates_more(kvp):
    mu = linear_attenuation_per_mm(kvp)

    assert mu["amalgam"] > mu["enamel"] > mu["dentine"] > mu["cortical_bone"] > mu["soft_tissue"] > 0


@pytest.mark.parametrize("kvp", [40.0, 90.0])
def test_a_voltage_outside_the_tables_is_refused(kvp):
    with pytest.raises(ValueError, match="kvp must lie from 55 to 70"):
        linear_attenuation_per_mm(kvp)


@pytest.mark.parametrize("step_mm", [1.0, 2.0, 3.0, 4.0, 6.0, 8.0])
def test_a_step_wedge_of_aluminium_transmits_what_the_library_says(step_mm):
    """Beer-Lambert along the simulator's own rays through a step of a wedge."""
    count = 101
    flat = np.zeros(count)
    step = Loft(start=-5.0, centre_x=flat, centre_b=flat, half_x=flat + 5.0, half_b=flat + step_mm / 2, power=60.0)
    side = np.arange(-1.0, 1.0, 0.1, dtype=np.float32)
    rays = RayGrid(x=side, a=side, source=(0.0, 350.0, 0.0))
    transmitted = np.exp(-linear_attenuation_per_mm(65.0)["aluminium"] * path_mm([step], rays, 20))
    expected = np.exp(-xraylib.CS_Total(13, effective_energy_kev(65.0)) * 2.699 * step_mm / 10)

    assert float(transmitted.mean()) == pytest.approx(expected, rel=0.01)
