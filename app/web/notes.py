"""What a page says after something was done: the address carries the code, this table the sentence."""

from __future__ import annotations

from urllib.parse import urlencode

from fastapi.responses import RedirectResponse

NOTES: dict[str, str] = {
    "welcome": "The practice is set up. Add your rooms, receptors and colleagues here.",
    "welcome-administrator": "The practice is set up. Add your colleagues here, the dentist first.",
    "logged-out": "You are logged out.",
    "registered": "The patient is registered.",
    "corrected": "The correction is kept.",
    "retention-rule-kept": "The rule is kept with its day. The list below follows it.",
    "retention-held": "The hold is kept. The record stays, whatever its term.",
    "retention-lifted": "The hold is lifted.",
    "erasing-confirmed": "It is confirmed. Nothing is erased until somebody who administers the program does it.",
    "erasing-withdrawn": "The erasing is withdrawn. The record stays.",
    "erased": "The record is erased. Backups still hold it until they are dropped.",
    "left-files-removed": "What an erasing had left is looked after.",
    "merged": "The two records are one now. What was moved stands below, and can be put back.",
    "merge-undone": "The merge is undone. If anything could not go back by itself, it stands below.",
    "chart-kept": "The chart is kept. Open series of this patient follow it.",
    "settings-kept": "The settings are kept. Series already started keep theirs.",
    "staff-added": "The colleague is added and can log in now.",
    "duty-given": "This colleague administers the program too.",
    "duty-taken": "This colleague no longer administers the program.",
    "staff-retired": "The log-in is closed. What this person did stays in the records.",
    "staff-back": "The log-in is open again.",
    "password-set": "The new password is set. Every log-in with the old one has ended.",
    "own-password-set": "The new password is set. Your other log-ins have ended; this one goes on.",
    "pin-set": "The PIN is set. It opens where you have logged in with your password that day.",
    "pin-removed": "The PIN is removed. Only your password opens now.",
    "log-in-ended": "The log-in has ended.",
    "log-ins-ended": "The log-ins have ended.",
    "locked": "Locked. Everything that was kept is there. Come back with your PIN or password.",
    "factor-off": "The second factor is off. Only the password is asked.",
    "factor-asked": "Administrators need a second factor from now on.",
    "factor-not-asked": "A second factor is left to each person.",
    "log-in-again": "Too much time has passed, or too many codes were wrong. Begin again with your password.",
    "room-kept": "The rooms are kept.",
    "receptor-kept": "The receptors are kept.",
    "order-kept": "The exposure order is kept.",
    "file-names-kept": "The file-name patterns are kept.",
    "template-copied": "This is your own copy. Edit its slots below.",
    "template-kept": "A new version is kept. Series already started keep the version they began with.",
    "template-retired": "The template is off the list of new series.",
    "template-back": "The template can be chosen again.",
    "images-loaded": "The images are loaded.",
    "assignment-kept": "The assignment is kept. It can be changed later.",
    "image-moved": "The image has its new slot. Review it there.",
    "set-aside": "The file is set aside. It is kept, and not counted.",
    "put-back": "The image counts again. Give it a slot.",
    "review-kept": "Kept. This is the next image to review.",
    "all-reviewed": "Every image is reviewed.",
    "review-reopened": "The review is taken back. The image shows nothing until it is reviewed.",
    "view-kept": "The view is kept. The file stays as it came.",
    "finding-decided": "The decision is kept. What it takes away stands in the review below.",
    "threshold-kept": "The threshold is kept. Images to come are measured by it.",
    "retake-ordered": "The retake is ordered. Load its image when it is taken.",
    "retake-withdrawn": "The order is withdrawn.",
    "exempted": "This series need not show it. The exemption stands on the record.",
    "asked-again": "It is asked for again.",
    "imported": "The patients are imported.",
    "import-discarded": "The file is discarded. Nothing of it was imported.",
    "import-undone": "The import is undone. What was left, and why, stands below.",
    "letters-prepared": "Prepared, and noted among the contacts of each patient. Nothing was sent.",
    "letter-text-kept": "The text is kept.",
    "letter-text-retired": "The text is off the list.",
    "letter-text-back": "The text can be chosen again.",
    "recall-worked-out": "A further step of the list is worked out.",
    "recall-claimed": "You are calling this patient. Colleagues see it for ten minutes.",
    "recall-released": "The patient is given back.",
    "recall-contact-kept": "The contact is kept.",
    "recall-prescribed": "The prescription is kept. It wins over every table until its end.",
    "recall-risk-kept": "The caries risk is kept with its day.",
    "recall-held": "The recall is held. The patient stays on the list, under held or declined.",
    "recall-lifted": "The hold is lifted.",
    "recall-outside-kept": "The images from elsewhere count from their day.",
    "recall-withdrawn": "It is taken back, and stays in the history.",
    "recall-policy-kept": "The choice is kept with its day. Dates are worked out anew.",
    "series-closed": "The series is closed. This is its record.",
    "note-kept": "The note stands on the charts.",
    "note-withdrawn": "The note is off the charts. It stays in the records.",
    "receptors-measured": "Some of the images are measured. Where more wait, measure again.",
    "receptors-all-measured": "Every stored image that names its receptor is measured.",
    "scheme-chosen": "The targets are kept, from the day you named on.",
    "sample-drawn": "The sample is drawn. A colleague who did not review the images reads them.",
    "sample-read": "Nothing of this sample waits for you.",
    "collimation-kept": "The collimation is kept. The estimates follow it.",
    "report-signed": "The report is signed and kept. It will not change.",
    "booked": "The appointment is booked.",
    "appointment-moved": "The appointment is moved. Tell the patient.",
    "appointment-cancelled": "The appointment is cancelled. The patient waits for a recall again.",
    "appointment-marked": "The mark is kept. It can be corrected on the appointment's page.",
    "hours-kept": "The week is kept. What is booked already stays.",
    "calendar-settings-kept": "The settings of the calendar are kept.",
    "day-closed": "The day is closed. Move what is booked on it.",
    "day-open": "The day is open again.",
    "feed-revoked": "The address is revoked. It answers nobody any more.",
}


def go_to(address: str, note: str = "") -> RedirectResponse:
    """Lead to a page after something was done there, and have it say so.

    Parameters
    ----------
    note : a code of `NOTES`, or empty
    """
    if note and note not in NOTES:
        raise KeyError(note)
    address, hash_sign, place = address.partition("#")
    joined = f"{address}{'&' if '?' in address else '?'}{urlencode({'note': note})}" if note else address
    return RedirectResponse(f"{joined}{hash_sign}{place}", status_code=303)
