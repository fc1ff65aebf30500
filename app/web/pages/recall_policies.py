"""The tables of intervals: what was published, what the practice chose, and its own months."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.errors import InputError
from app.core.recall.guidance import GROUPS, IntervalTable
from app.exchange.recall_guidance import full_series_custom, published_tables
from app.storage.practice_scope import NotFound, PracticeScope
from app.storage.versions import Stamp
from app.web.choice import OPENED, check_overtaken, opened_field
from app.web.dependencies import CurrentActor, Posted, ReadingDep, StoreDep
from app.web.notes import go_to
from app.web.pages.recall import places
from app.web.rendering import FieldError, View, errors_of, render
from app.web.seen.practice import seen_values
from app.work.actor import Actor
from app.work.overtaken import Seen
from app.work.recall_policies import choose_policy
from app.work.recall_tables import NO_TABLE, policies_kept, policy_in_force, table_of

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class PoliciesView(View):
    """The choice of tables.

    Parameters
    ----------
    chosen : key of the table in force; empty where none was chosen yet
    kept : every choice: its day, title, and whether it was edited
    """

    places: list[tuple[str, str, bool]]
    tables: list[IntervalTable]
    chosen: str
    in_force: IntervalTable | None
    kept: list[tuple[date, str, bool]]
    none_key: str
    custom: str
    custom_source: str


@dataclass(frozen=True, kw_only=True)
class PolicyRow:
    """One row of a table in the form; ``low`` and ``high`` as typed, empty where it does not apply."""

    number: int
    who: str
    risks: str
    low: str
    high: str
    condition: str
    source: str
    published: str
    error: str


@dataclass(frozen=True, kw_only=True)
class PolicyView(View):
    """One table, with its months to edit."""

    places: list[tuple[str, str, bool]]
    table: IntervalTable
    rows: list[PolicyRow]
    is_chosen: bool


@router.get("/recall/policies")
def show_policies(request: Request, scope: ReadingDep, actor: CurrentActor) -> Response:
    """Every table, and which one is chosen."""
    policy = policy_in_force(scope)
    custom = full_series_custom()
    view = PoliciesView(
        heading="Tables of recall intervals",
        places=places("/recall/policies", actor),
        tables=list(published_tables().values()),
        chosen=policy.key if policy is not None else "",
        in_force=table_of(policy),
        kept=[(each.chosen_on, each.title, each.edited) for each in policies_kept(scope)],
        none_key=NO_TABLE,
        custom=custom.months.words(),
        custom_source=custom.source,
    )
    return render(request, "pages/recall_policies.html", view)


def _policy(
    actor: Actor,
    table: IntervalTable,
    *,
    is_chosen: bool,
    typed: dict[int, tuple[str, str]] | None = None,
    errors: tuple[FieldError, ...] = (),
    opened: str,
) -> PolicyView:
    published = published_tables()[table.key]
    rows = []
    for number, row in enumerate(table.rows):
        months = row.months
        low, high = (str(months.low), str(months.high)) if months is not None else ("", "")
        low, high = (typed or {}).get(number, (low, high))
        before = published.rows[number].months
        rows.append(
            PolicyRow(
                number=number,
                who=", ".join(GROUPS[group] for group in row.groups),
                risks=", ".join(row.risks),
                low=low,
                high=high,
                condition=row.condition,
                source=row.source,
                published=before.words() if before is not None else "does not apply",
                error=next((each.message for each in errors if each.field == f"rows[{number}]"), ""),
            )
        )
    shown = tuple(
        FieldError(field=each.field.replace("rows[", "low_").rstrip("]"), message=each.message) for each in errors
    )
    return PolicyView(
        heading=table.short,
        errors=shown,
        opened=opened,
        places=places("", actor),
        table=table,
        rows=rows,
        is_chosen=is_chosen,
    )


def _published(key: str) -> IntervalTable:
    try:
        return published_tables()[key]
    except KeyError:
        raise NotFound("no such table of intervals. Go back and choose it from the list") from None


def _as_kept(scope: PracticeScope, key: str) -> tuple[IntervalTable, bool]:
    """The table as the practice keeps it where it is chosen, else as published; and whether it is chosen."""
    own = table_of(policy_in_force(scope))
    chosen = own is not None and own.key == key
    return (own if own is not None and chosen else _published(key)), chosen


def _seen(scope: PracticeScope, key: str) -> Seen:
    """The months of the table, and which table is in force."""
    policy = policy_in_force(scope)
    fields = {"?chosen": policy.title if policy is not None else "none yet"}
    labels = {"?chosen": "Table in force"}
    if key != NO_TABLE:
        for number, row in enumerate(_as_kept(scope, key)[0].rows):
            who = f"{', '.join(GROUPS[group] for group in row.groups)}, {', '.join(row.risks)}"
            for end, words in (("low", "from"), ("high", "to")):
                name = f"{end}_{number}"
                labels[name] = f"{who}: {words}, months"
                fields[name] = str(getattr(row.months, end)) if row.months is not None else ""
    return seen_values(fields, labels, Stamp(policy.kept_by, policy.kept_at) if policy is not None else None)


@router.get("/recall/policies/{key}")
def show_policy(request: Request, key: str, scope: ReadingDep, actor: CurrentActor) -> Response:
    """One table: as the practice keeps it where it is chosen, else as published."""
    table, chosen = _as_kept(scope, key)
    view = _policy(actor, table, is_chosen=chosen, opened=opened_field(_seen(scope, key)))
    return render(request, "pages/recall_policy.html", view)


@router.post("/recall/policies/{key}")
def choose(request: Request, key: str, store: StoreDep, actor: CurrentActor, form: Posted) -> Response:
    """Choose the table, with the months as typed."""
    typed = {}
    if key != NO_TABLE:
        count = len(_published(key).rows)
        typed = {n: (form.text(f"low_{n}"), form.text(f"high_{n}")) for n in range(count) if form.text(f"low_{n}")}
    try:
        with store.writing(actor.practice_id) as scope:
            check_overtaken(scope, form, _seen(scope, key), back=f"/recall/policies/{key}")
            choose_policy(scope, actor, key, months=typed, today=date.today())
    except InputError as error:
        view = _policy(
            actor,
            _published(key),
            is_chosen=False,
            typed=typed,
            errors=errors_of(error),
            opened=form.text(OPENED),
        )
        return render(request, "pages/recall_policy.html", view, status=422)
    return go_to("/recall/policies", "recall-policy-kept")
