"""Builders whose every default is dull and valid."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from app.storage.findings import FindingRow
from app.storage.series import ExposureRow, SeriesRow
from app.work.load_images import load_image
from app.work.start_series import start_series
from tests.people import TODAY, Practice, a_patient


def image_file(number: int = 1, *, width: int = 80, height: int = 60, kind: str = "PNG") -> bytes:
    """A small grey image, different for each number."""
    levels = np.random.default_rng(number).integers(20, 230, (height, width), dtype=np.uint8)
    out = io.BytesIO()
    Image.fromarray(levels).save(out, kind)
    return out.getvalue()


def a_series(practice: Practice, template: str = "adult-18", patient_id: str | None = None) -> SeriesRow:
    """An open series."""
    patient = patient_id or a_patient(practice).id
    with practice.store.writing(practice.dentist.practice_id) as scope:
        return start_series(
            scope,
            practice.assistant,
            patient_id=patient,
            template_key=template,
            prescribed_by=practice.dentist.staff_id,
            reason="new patient, generalised disease",
            today=TODAY,
        )


def loaded(
    practice: Practice,
    series: SeriesRow,
    number: int = 1,
    *,
    slot: str | None = None,
    name: str = "",
    upright: bool = False,
) -> ExposureRow:
    """An image of the series."""
    width, height = (60, 80) if upright else (80, 60)
    data = image_file(number, width=width, height=height)
    name = name or f"image-{number}.png"
    return load_image(practice.store, practice.assistant, series.id, data=data, name=name, slot=slot).exposure


def a_finding(exposure_id: str, *, number: int = 1, code: str = "cone_cut", severity: str = "fail") -> FindingRow:
    """A cone cut over the left third of an image of 80 x 60 pixels."""
    return FindingRow(
        exposure_id=exposure_id,
        number=number,
        code=code,
        severity=severity,
        score=0.33,
        confidence=0.9,
        message="Cone cut: the beam missed 33% of the image, behind a straight edge.",
        box=[0, 0, 27, 60],
        proposes=code if code in ("cone_cut", "blurred") else None,
    )
