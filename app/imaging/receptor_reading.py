"""What one image says of its receptor and exposure setting: grey of air and of enamel, noise, sharpness.

One image says little, because the anatomy differs; the mean of a month's images, followed over time, shows an
ageing receptor or a changed setting.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.imaging.density import FLAT
from app.imaging.findings import Inspection, inspect_radiograph
from app.imaging.planes import Box, Planes, fields_of, planes_of
from app.imaging.radiograph import Radiograph

DARKEST = 0.13
"""Grey below which an even field can be open space: soft tissue in front of it is lighter (common practice, no
source)."""
ONE_LEVEL = 0.03
"""Grey by which fields of open space may differ from the darkest of them."""
LEAST_AIR = 0.01
"""Share of the fields that must be open space before its grey is told."""


@dataclass(frozen=True, kw_only=True)
class ReceptorMeasurements:
    """Measurements of one image; None where it does not show what is measured.

    Parameters
    ----------
    air_grey : median of the darkest even fields: open space, where nothing weakened the beam; share of the grey
        range
    enamel_grey : 95th percentile of tissue, metal left out; share of the grey range
    noise : standard deviation of a pixel where the image is smooth, share of the grey range
    sharpness : width of the sharpest edges, thousandths of the long side
    """

    air_grey: float | None
    enamel_grey: float | None
    noise: float | None
    sharpness: float | None


def receptor_measurements(radiograph: Radiograph, inspection: Inspection | None = None) -> ReceptorMeasurements:
    """Measure one image; everything is None where the file's levels say nothing, or where it holds no mouth.

    Parameters
    ----------
    inspection : of the same image, where it was made already
    """
    inspection = inspection or inspect_radiograph(radiograph)
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


def _air(radiograph: Radiograph, inner: Box, noise: float) -> float | None:
    planes = planes_of(radiograph)
    fields = fields_of(_without_frame(planes, inner))
    even = fields.mean[fields.spread < FLAT + 1.5 * noise / planes.factor]
    dark = even[even < DARKEST]
    if dark.size < LEAST_AIR * fields.mean.size:
        return None
    return round(float(np.median(dark[dark < np.percentile(dark, 5) + ONE_LEVEL])), 5)


def _without_frame(planes: Planes, inner: Box) -> NDArray[np.float32]:
    """The fine plane within a frame; one plain dark side is no frame but open space, and is looked at."""
    rows, columns = planes.native.shape
    x, y, width, height = inner
    sides = (x > 0) + (y > 0) + (x + width < columns) + (y + height < rows)
    if sides < 2:
        return planes.fine
    left, top, across, down = (int(each / planes.factor) for each in inner)
    return planes.fine[top : top + down, left : left + across]
