"""What one image says of its receptor and exposure setting: grey of air and of enamel, noise, sharpness.

One image says little, because the anatomy differs; the mean of a month's images, followed over time, shows an
ageing receptor or a changed setting.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.imaging.density import FLAT
from app.imaging.findings import inspect_radiograph
from app.imaging.planes import fields_of, planes_of
from app.imaging.radiograph import Radiograph

DARKEST = 0.3
"""Grey below which an even field can be open space (common practice, no source)."""
LEAST_AIR = 0.01
"""Share of the fields that must be open space before its grey is told."""


@dataclass(frozen=True, kw_only=True)
class ReceptorMeasurements:
    """Measurements of one image; None where it does not show what is measured.

    Parameters
    ----------
    air_grey : median of the even dark fields: open space, where nothing weakened the beam; share of the grey range
    enamel_grey : 95th percentile of tissue, metal left out; share of the grey range
    noise : standard deviation of a pixel where the image is smooth, share of the grey range
    sharpness : width of the sharpest edges, thousandths of the long side
    """

    air_grey: float | None
    enamel_grey: float | None
    noise: float | None
    sharpness: float | None


def receptor_measurements(radiograph: Radiograph) -> ReceptorMeasurements:
    """Measure one image; everything is None where the file's levels say nothing, or where it holds no mouth."""
    inspection = inspect_radiograph(radiograph)
    found = inspection.measurements
    if any(finding.code in ("blank", "not_a_radiograph") for finding in inspection.findings):
        return ReceptorMeasurements(air_grey=None, enamel_grey=None, noise=None, sharpness=None)
    absolute = bool(found.get("levels_absolute"))
    return ReceptorMeasurements(
        air_grey=_air(radiograph, inspection.inner, found["noise"]) if absolute else None,
        enamel_grey=found["tissue_p95"] if absolute else None,
        noise=found["noise"] or None,
        sharpness=found.get("edge_width"),
    )


def _air(radiograph: Radiograph, inner: tuple[int, int, int, int], noise: float) -> float | None:
    planes = planes_of(radiograph)
    x, y, width, height = (int(each / planes.factor) for each in inner)
    fields = fields_of(planes.fine[y : y + height, x : x + width])
    even = fields.spread < FLAT + 1.5 * noise / planes.factor
    air = even & (fields.mean < DARKEST)
    if air.mean() < LEAST_AIR:
        return None
    return round(float(np.median(fields.mean[air])), 5)
