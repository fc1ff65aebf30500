"""What the forms of the practice show: policies, loading, thresholds, templates, tables, targets, hours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from app.core.overtaking import TICK, Fields, Values
from app.storage.bookings import BookingSettings
from app.storage.letters import LetterText
from app.storage.practice import Practice, PracticeTemplate
from app.storage.versions import Stamp
from app.work.overtaken import Seen


def seen_policies(practice: Practice, names: Sequence[str]) -> Seen:
    """Name and policies."""
    labels = {
        "name": "Name of the practice",
        "numbering": "Teeth are shown as",
        "posterior_contacts": "Contacts of back teeth count",
        "bone_beyond_apex_mm": "Bone beyond an apex, mm",
        "upper_canine_lateral": "Upper canine and lateral",
    }
    return Seen(
        fields={name: (str(getattr(practice, name)),) for name in names},
        rows=(practice,),
        label=lambda name: labels.get(name, name),
        words=lambda _, values: ", ".join(values).replace("_", " "),
    )


def seen_patterns(practice: Practice, patterns: str) -> Seen:
    """The file-name patterns."""
    return Seen(
        fields={"patterns": (patterns,)},
        rows=(practice,),
        columns={"patterns": ("file_name_patterns",)},
        label=lambda _: "Patterns",
    )


def seen_order(practice: Practice, order: Sequence[str]) -> Seen:
    """The exposure order of one template."""
    return Seen(
        fields={"slot": tuple(order)},
        rows=(practice,),
        columns={"slot": ("exposure_orders",)},
        label=lambda _: "Order",
    )


def seen_text(row: LetterText) -> Seen:
    """The text of a letter or message."""
    names = ("kind", "title", "subject", "body")
    return Seen(fields={name: (str(getattr(row, name)),) for name in names}, rows=(row,))


def seen_settings(settings: BookingSettings, names: Sequence[str]) -> Seen:
    """Clock and forecast of the calendar; nothing is kept while the practice has chosen nothing."""
    rows = (settings,) if settings.practice_id else ()
    return Seen(fields={name: (str(getattr(settings, name)),) for name in names}, rows=rows)


def seen_week(week: Sequence[tuple[str, str, str]]) -> Seen:
    """The hours of a room: name, weekday and text of each field."""
    titles = {name: title for name, title, _ in week}
    return Seen(
        fields={name: (text,) for name, _, text in week},
        label=lambda name: titles.get(name, name),
        words=lambda _, values: ", ".join(values) or "closed",
    )


def seen_slot(row: PracticeTemplate, values: Mapping[str, str], shows: Sequence[str], *, required: bool) -> Seen:
    """One slot of a template."""
    fields: dict[str, Values] = {name: (value,) for name, value in values.items()}
    fields["required"] = ("yes" if required else "",)
    fields |= {f"shows{TICK}{target}": ("yes",) for target in shows}
    return Seen(
        fields=fields,
        stamps=dict.fromkeys((*fields, "shows"), Stamp(row.edited_by or "", row.edited_at)),
        boxes=("shows",),
        label=lambda name: f"Shows {name.partition(TICK)[2]}" if TICK in name else name.capitalize(),
        words=lambda name, values: ("yes" if values else "no") if TICK in name else ", ".join(values),
    )


def seen_title(row: PracticeTemplate) -> Seen:
    """The title of a template."""
    stamps = {"title": Stamp(row.edited_by or "", row.edited_at)}
    return Seen(fields={"title": (row.title,)}, stamps=stamps)


def seen_values(
    fields: Mapping[str, str], labels: Mapping[str, str], stamp: Stamp | None, *, rows: Sequence[object] = ()
) -> Seen:
    """A form whose values stand in rows that are never changed, only followed by newer ones.

    Parameters
    ----------
    stamp : who kept the newest, and when
    """
    return Seen(
        fields={name: (value,) for name, value in fields.items()},
        stamps=dict.fromkeys(fields, stamp),
        label=lambda name: labels.get(name, name.removeprefix("?")),
    )


def only(seen: Seen, opened: Fields, wanted: Fields, names: Sequence[str]) -> Fields:
    """What is wanted, where the form sends only some of what it shows: of the others, whatever is now."""
    return {name: wanted.get(name, ()) if name in names else seen.fields.get(name, ()) for name in opened}
