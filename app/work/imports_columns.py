"""What a file of patients can hold, and which column is likely which; a person confirms it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from app.core.errors import InputError
from app.exchange.csv_reading import CsvTable


@dataclass(frozen=True, kw_only=True)
class ImportField:
    """One thing that a column can be.

    Parameters
    ----------
    needed : whether an import cannot do without
    is_day : whether it is a date
    names : what such columns are often called, in plain lower case
    """

    key: str
    title: str
    needed: bool = False
    is_day: bool = False
    names: tuple[str, ...] = ()


FIELDS: tuple[ImportField, ...] = (
    ImportField(
        key="chart_number",
        title="Chart number",
        needed=True,
        names=(
            *("chart number", "chart no", "chart nr", "chart", "chart id", "patient number", "patient no"),
            *("patient nr", "patient id", "patientid", "file number", "record number", "number", "no", "nr", "id"),
        ),
    ),
    ImportField(key="name", title="Whole name", names=("name", "patient", "patient name", "full name")),
    ImportField(key="given_name", title="Given name", names=("given name", "first name", "firstname", "forename")),
    ImportField(key="family_name", title="Family name", names=("family name", "last name", "lastname", "surname")),
    ImportField(
        key="birth_date",
        title="Birth date",
        needed=True,
        is_day=True,
        names=("birth date", "date of birth", "birthdate", "dob", "born", "born on", "birthday"),
    ),
    ImportField(
        key="phone",
        title="Phone",
        names=("phone", "phone number", "telephone", "tel", "mobile", "mobile phone", "cell", "cell phone"),
    ),
    ImportField(key="email", title="E-mail", names=("email", "e mail", "email address", "e mail address", "mail")),
    ImportField(
        key="preferred_contact",
        title="Preferred contact",
        names=("preferred contact", "contact preference", "contact by", "contact method", "contact"),
    ),
    ImportField(
        key="last_bitewings",
        title="Last bitewings",
        is_day=True,
        names=("last bitewings", "last bitewing", "bitewings", "bitewing", "last bw", "last bwx", "bw", "bwx"),
    ),
    ImportField(
        key="last_full_series",
        title="Last full-mouth series",
        is_day=True,
        names=(
            *("last full series", "last full mouth series", "full mouth series", "full series", "last fms"),
            *("last fmx", "fms", "fmx", "last full mouth"),
        ),
    ),
)
FIELD_BY_KEY = {field.key: field for field in FIELDS}
IMAGE_KINDS = {"last_bitewings": "bitewings", "last_full_series": "full_series"}
"""Fields that become images from elsewhere, and of which kind."""


def guessed_columns(header: tuple[str, ...]) -> dict[str, int]:
    """Which column each field likely is, by its name; each column at most once."""
    plain = [" ".join(re.findall(r"[^\W_]+", name.lower())) for name in header]
    found: dict[str, int] = {}
    for field in FIELDS:
        for name in field.names:
            at = next((at for at, each in enumerate(plain) if each == name and at not in found.values()), None)
            if at is not None:
                found[field.key] = at
                break
    if "given_name" in found or "family_name" in found:
        found.pop("name", None)
    return found


def checked_columns(columns: dict[str, Any], table: CsvTable) -> dict[str, int]:
    """The mapping as numbers of columns.

    Raises
    ------
    InputError
        At the field: no such column, a column used twice, or something that an import needs is missing.
    """
    clean: dict[str, int] = {}
    for key, value in columns.items():
        field = FIELD_BY_KEY.get(key)
        if field is None or value in (None, ""):
            continue
        text = str(value)
        if not text.isdecimal() or int(text) >= len(table.header):
            raise InputError(key, f'"{text}" is not a column of this file. Choose one from the list')
        at = int(text)
        twin = next((other for other, column in clean.items() if column == at), None)
        if twin is not None:
            title = FIELD_BY_KEY[twin].title
            raise InputError(key, f'the column "{table.header[at]}" is chosen for "{title}" too. Choose another')
        clean[key] = at
    for field in FIELDS:
        if field.needed and field.key not in clean:
            raise InputError(field.key, "an import needs this column. Choose it")
    if not {"name", "given_name", "family_name"} & set(clean):
        raise InputError("name", "an import needs the name: one column, or given and family name. Choose it")
    if "name" in clean and {"given_name", "family_name"} & set(clean):
        raise InputError("name", "the name stands in one column or in two, not both. Leave one of them out")
    return clean
