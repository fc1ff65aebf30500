"""What becomes of each column that points to a patient, when two records are made one."""

from __future__ import annotations

MOVES: dict[tuple[str, str], str] = {
    ("series", "patient_id"): "series",
    ("appointment", "patient_id"): "appointments",
    ("caries_risk", "patient_id"): "caries risks",
    ("recall_prescription", "patient_id"): "prescriptions",
    ("recall_hold", "patient_id"): "holds of the recall",
    ("outside_images", "patient_id"): "images from elsewhere",
    ("contact_note", "patient_id"): "contacts",
    ("recall_booking", "patient_id"): "recall bookings",
    ("imported_row", "patient_id"): "lines of imports",
    ("retention_hold", "patient_id"): "holds on erasing",
    ("patient", "merged_into"): "records merged earlier",
}
"""Goes over to the record that stays, and comes back when the merge is undone."""

STAYS: dict[tuple[str, str], str] = {
    ("recall_item", "patient_id"): "worked out anew for both",
    ("correction", "patient_id"): "the history of that record itself; corrections of images go with their series",
    ("patient_merge", "kept_id"): "the account of the merges themselves",
    ("patient_merge", "merged_id"): "the account of the merges themselves",
    ("erasure", "patient_id"): "a record to be erased is not merged",
}
"""Is left where it is, and why."""

DAYS: dict[str, str] = {
    "series": "started_on",
    "appointment": "starts_at",
    "caries_risk": "assessed_on",
    "recall_prescription": "prescribed_on",
    "recall_hold": "from_on",
    "outside_images": "taken_on",
    "contact_note": "made_at",
    "recall_booking": "day",
    "retention_hold": "placed_at",
}
"""The column that says of which day a row is."""
