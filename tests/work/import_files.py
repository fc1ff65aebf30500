"""Files of patients as tests hand them in."""

from __future__ import annotations

from datetime import date

from app.exchange.csv_reading import read_csv
from app.storage.imports import PatientImport
from app.work.imports import choose_columns, choose_orders, plan_of, stage_file
from app.work.imports_check import ImportPlan
from app.work.imports_columns import guessed_columns
from app.work.imports_confirm import confirm_import
from tests.people import TODAY, Practice

HEADER = "Chart no,Name,Date of birth,Phone,E-mail,Last bitewings,Last FMS"
TWO = f"""{HEADER}
N1,Ode Farrant,1984-03-27,01632 960001,ode@example.org,2024-05-06,
N2,Ilka Brandt,2015-01-02,,,,2025-06-07
"""


def staged(practice: Practice, text: str | bytes, orders: dict[str, str] | None = None) -> str:
    """The id of an import whose columns are chosen as guessed."""
    data = text.encode() if isinstance(text, str) else text
    with practice.store.writing(practice.front_desk.practice_id) as scope:
        row = stage_file(scope, practice.front_desk, data=data, file_name="patients.csv")
        columns = guessed_columns(read_csv(data).header)
        choose_columns(scope, practice.front_desk, row.id, columns=dict(columns), today=TODAY)
        if orders:
            choose_orders(scope, practice.front_desk, row.id, orders=orders, today=TODAY)
    return row.id


def planned(practice: Practice, import_id: str, today: date = TODAY) -> ImportPlan:
    """What confirming it would do."""
    with practice.store.reading(practice.front_desk.practice_id) as scope:
        return plan_of(scope, practice.front_desk, import_id, today=today)[1]


def imported(practice: Practice, text: str | bytes, orders: dict[str, str] | None = None) -> PatientImport:
    """The import of the file, confirmed as it was shown."""
    import_id = staged(practice, text, orders)
    fingerprint = planned(practice, import_id).fingerprint
    with practice.store.writing(practice.front_desk.practice_id) as scope:
        return confirm_import(scope, practice.front_desk, import_id, fingerprint=fingerprint, today=TODAY)
