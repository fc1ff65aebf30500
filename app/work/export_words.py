"""What stands beside the files of a patient's export, in plain words."""

from __future__ import annotations

TABLES = {
    "patient": "name, birth date, chart number, contact, dentition chart",
    "series": "each series of radiographs: template, who prescribed it and why, when",
    "exposure": "each exposure: slot, operator, receptor, settings, time, review",
    "image": "each image file: its SHA-256, size and kind",
    "image_measure": "what the program measured on each image",
    "finding": "what the program saw on each image, and what a person decided",
    "retake_order": "retakes that were authorised",
    "sign_off": "the closing of each series, with what the audit said then",
    "receptor_reading": "what each image says of the receptor",
    "grading_item": "second readings of images, for the quality of the practice",
    "quality_fact": "what the quality review counts of each exposure",
    "caries_risk": "caries risk as it was assessed",
    "recall_prescription": "when further images were prescribed",
    "recall_hold": "why the patient was not called",
    "outside_images": "images taken elsewhere",
    "contact_note": "attempts to reach the patient",
    "recall_booking": "bookings noted for the recall",
    "recall_item": "the lines of the recall list, worked out from the rest",
    "appointment": "appointments",
    "imported_row": "what an import from a file wrote",
    "correction": "what was recorded and is recorded otherwise now",
    "patient_merge": "records that were merged, and merges undone",
    "retention_hold": "holds that keep the record from being erased",
    "erasure": "erasings that were proposed",
    "trail_entry": "who looked at the images, and who changed or exported what, when",
}
"""Each table that is exported."""

LEFT_OUT = {
    "quality_mark": "a reminder of the program to itself that a sum is to be counted again",
}
"""Tables with a path to patient that are not exported, and why."""

README = """Everything on record about one patient
======================================

Practice:      {practice}
Patient:       {name}
Chart number:  {number}
Born:          {born}
Made:          {made}, by {by}

This archive holds health data. Keep it where only those who need it can open it, and hand it over only to the
patient or to whom the patient names.

original/      each image file byte for byte as it was loaded. Such a file may name the patient, the device or the
               place inside.
images/        the same images as PNG pictures for any viewer, without anything written inside; images with more
               than 256 levels of grey are shown in a usual window.
records/       one page for each series, to open in a browser and print.
series/        each series in the format fullcount-series/1, with its audit (fullcount-audit/1) beside it.
data/          every row of the database about the patient, table by table, as JSON. Times are UTC.
corrections.txt  what was corrected: what stood there, what stands there now, who, when and why.
problems.txt   only where an image could not be read: which, and why.
SHA256SUMS     the SHA-256 of every file before it; "sha256sum -c SHA256SUMS" checks them.

Tables in data/ (people.json says whom the ids of staff stand for):
{tables}

The images are aids to a dentist's judgement; coverage says whether something is on an image, not what it shows.
"""
