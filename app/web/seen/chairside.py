"""What the forms beside the chair show: a review, the places of images, closing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from app.core import targets
from app.core.exposures import TAKES_AWAY, ShortfallCode
from app.core.overtaking import TICK, Fields, Values
from app.core.reading import Reading
from app.core.targets import Target
from app.storage.series import ExposureRow
from app.storage.versions import Stamp, Versioned, stamp_of
from app.web.pages.chairside_chart import fault_name
from app.web.pages.chairside_facts import SeriesFacts
from app.work.overtaken import Seen

NOT_REVIEWED, ALL_SHOWN, NOT_ALL = "not reviewed", "all shown", "not all shown"
NO_SLOT = "no slot"


def verdict_of(row: ExposureRow) -> str:
    """What the review of an image says, in words."""
    if not row.reviewed:
        return NOT_REVIEWED
    return NOT_ALL if row.shortfalls else ALL_SHOWN


def losses(facts: SeriesFacts, slot: str, shortfalls: Sequence[Mapping[str, object]]) -> dict[Target, str]:
    """Each target that the slot promises, with the code of the shortfall that took it; empty where it is shown."""
    promised = Reading(facts.series).promised(slot)
    lost: dict[Target, str] = dict.fromkeys(sorted(promised), "")
    for each in shortfalls:
        code = str(each["code"])
        named = each.get("targets")
        if isinstance(named, Sequence):
            taken = {one for text in named for one in facts.series.dentition.expand(Target(str(text)))}
        else:
            kinds = TAKES_AWAY[ShortfallCode(code)] if code in {known.value for known in ShortfallCode} else ()
            taken = {target for target in promised if targets.kind(target) in kinds}
        for target in taken & set(lost):
            lost[target] = lost[target] or code
    return lost


def review_fields(
    facts: SeriesFacts,
    row: ExposureRow,
    verdict: str,
    shortfalls: Sequence[Mapping[str, object]],
    also: Sequence[str],
) -> Fields:
    """A review as the fields of its form.

    Parameters
    ----------
    verdict : not reviewed, all shown or not all shown
    """
    slot = row.slot or ""
    lost = losses(facts, slot, shortfalls) if facts.template.has_slot(slot) else {}
    fields: dict[str, Values] = {"?slot": (slot,), "?verdict": (verdict,)}
    fields |= {f"code:{target}": (code,) for target, code in lost.items()}
    # A fault is ticked where it took everything, and where it took something by name.
    in_use = {*(str(each["code"]) for each in shortfalls), *lost.values()} - {""}
    fields |= {f"fault{TICK}{code}": ("yes",) for code in sorted(in_use)}
    fields |= {f"also{TICK}{target}": ("yes",) for target in also}
    return fields


def seen_review(facts: SeriesFacts, row: ExposureRow) -> Seen:
    """The form of the review of one image."""
    fields = review_fields(facts, row, verdict_of(row), row.shortfalls, row.also_shows)
    columns = {"?slot": ("slot",), "?verdict": ("reviewed", "reviewed_at")} | {
        name: ("also_shows",) if name.startswith("also") else ("shortfalls",)
        for name in fields
        if not name.startswith("?")
    }

    def label(name: str) -> str:
        if name.startswith("?"):
            return {"?slot": "Slot", "?verdict": "Review"}[name]
        if name.startswith("fault"):
            return f"Fault: {fault_name(name.partition(TICK)[2])}"
        target = Target(name.partition(TICK)[2] if name.startswith("also") else name.removeprefix("code:"))
        words = targets.label(target, facts.series.numbering).rsplit(" (", 1)[0]
        return words[:1].upper() + words[1:]

    def words(name: str, values: Values) -> str:
        if name.startswith("code:"):
            return fault_name(values[0]) if values and values[0] else "shown"
        if name.startswith("also"):
            return "seen besides" if values else "not seen"
        if name.startswith("fault"):
            return "marked" if values else "not marked"
        return slot_title(facts, values) if name == "?slot" else ", ".join(values)

    return Seen(
        fields=fields, rows=(row,), columns=columns, boxes=("also",), aside=("fault",), label=label, words=words
    )


def slot_title(facts: SeriesFacts, values: Values) -> str:
    """A slot in words."""
    slot = values[0] if values else ""
    return facts.template.slot(slot).title if facts.template.has_slot(slot) else slot or NO_SLOT


def seen_places(facts: SeriesFacts) -> Seen:
    """Which image stands in which slot; what was reviewed is only shown, since moving an image undoes it."""
    fields: dict[str, Values] = {}
    for each in facts.counted:
        fields[f"slot:{each.id}"] = (each.slot or "",)
        fields[f"?verdict:{each.id}"] = (verdict_of(each),)
    return Seen(
        fields=fields,
        rows=tuple(facts.audited.exposures),
        stamps=_stamps_of_places(facts),
        label=lambda name: _image_label(facts, name),
        words=lambda name, values: _place_words(facts, name, values),
    )


def _place_words(facts: SeriesFacts, name: str, values: Values) -> str:
    if not name.startswith("slot:"):
        return ", ".join(values)
    return slot_title(facts, values) if values else "set aside"


def places_wanted(sent: Mapping[str, str | None], opened: Fields, now: Seen) -> Fields:
    """The places as the person wants them; a review matters only where its image is moved."""
    wanted: dict[str, Values] = {}
    for name, values in opened.items():
        kind, _, image = name.partition(":")
        if kind == "slot":
            wanted[name] = (sent[image] or "",) if image in sent else values
        elif image in sent and (sent[image] or "",) != now.fields.get(f"slot:{image}", ()):
            wanted[name] = values
        else:
            wanted[name] = now.fields.get(name, ())
    return wanted


def _image_label(facts: SeriesFacts, name: str) -> str:
    kind, _, image = name.partition(":")
    row = facts.audited.exposure(image)
    number = f"Image {row.position}" if row is not None else "An image"
    return number if kind == "slot" else f"{number}, review"


def _stamps_of_places(facts: SeriesFacts) -> dict[str, Stamp | None]:
    stamps: dict[str, Stamp | None] = {}
    for each in facts.audited.exposures:
        stamps[f"slot:{each.id}"] = stamp_of(each, "slot", "set_aside_reason")
        stamps[f"?verdict:{each.id}"] = stamp_of(each, "reviewed", "reviewed_at")
    return stamps


def seen_image(facts: SeriesFacts, row: ExposureRow) -> Seen:
    """One image with what can be done to it at the board: moved, or set aside."""
    state = "set aside" if row.set_aside_reason is not None else slot_title(facts, (row.slot or "",))
    return Seen(
        fields={"?place": (state,), "?verdict": (verdict_of(row),)},
        rows=(row,),
        columns={"?place": ("slot", "set_aside_reason"), "?verdict": ("reviewed", "reviewed_at", "shortfalls")},
        label=lambda name: {"?place": "Slot", "?verdict": "Review"}.get(name, name),
    )


def seen_closing(facts: SeriesFacts) -> Seen:
    """What closing a series rests on."""
    audit = facts.audited.audit
    rows: tuple[Versioned, ...] = (facts.row, *facts.audited.exposures)
    words = {"?images": "Images", "?verdict": "Verdict", "?gaps": "Gaps", "?orders": "Retakes ordered"}
    titles = sorted(facts.template.slot(each.slot).title for each in facts.orders)
    return Seen(
        fields={
            "?images": (str(len(facts.counted)),),
            "?verdict": (audit.verdict,),
            "?gaps": (str(len(audit.gaps)),),
            "?orders": (", ".join(titles),),
        },
        rows=rows,
        label=lambda name: words.get(name, name),
    )
