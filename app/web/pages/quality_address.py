"""What the address of a review page asks for: period and person, kept from page to page; and the rows it reads."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Annotated
from urllib.parse import urlencode

from fastapi import Depends, Query
from sqlmodel import col

from app.storage.people import Staff
from app.storage.practice_scope import PracticeScope
from app.web.dependencies import CurrentActor, Login, StoreDep
from app.web.formatting import MONTHS
from app.work.actor import CHAIRSIDE, DENTISTS, ROLE_NAMES, Actor, Role
from app.work.quality_period import Period
from app.work.quality_refresh import bring_up_to_date

MONTHS_OFFERED = 60
"""How far back the choice of months goes; an address may ask for earlier ones."""


@dataclass(frozen=True, kw_only=True)
class Asked:
    """The review as the address asks for it.

    Parameters
    ----------
    period : whole months
    operator_id : one person's figures; empty for everybody's. An assistant always gets their own, without asking
    own : whether the figures are the reader's own only
    csv : key of the table wanted as a file; empty for the page
    """

    period: Period
    operator_id: str
    own: bool
    csv: str

    def address(self, path: str, **more: str | int) -> str:
        """The address of a review page with this period and person, and what else it takes."""
        known = {
            "from": f"{self.period.first:%Y-%m}",
            "to": f"{self.period.last:%Y-%m}",
            "operator": self.operator_id,
        }
        asked = known | {name: str(value) for name, value in more.items()}
        return f"{path}?{urlencode({name: value for name, value in asked.items() if value})}"

    def of_month(self, month: date) -> Asked:
        """The same for one month."""
        period = Period.of_months(f"{month:%Y-%m}", f"{month:%Y-%m}")
        return Asked(period=period, operator_id=self.operator_id, own=self.own, csv="")


def asked_review(
    actor: CurrentActor,
    first: Annotated[str, Query(alias="from", max_length=20)] = "",
    last: Annotated[str, Query(alias="to", max_length=20)] = "",
    operator: Annotated[str, Query(max_length=64)] = "",
    csv: Annotated[str, Query(max_length=40)] = "",
) -> Asked:
    """Read the address; without a period the twelve months up to today.

    Raises
    ------
    InputError
        At a month that is none, or a period that ends before it begins.
    """
    usual = Period.twelve_months_to(date.today())
    if first or last:
        period = Period.of_months(first or f"{usual.first:%Y-%m}", last or f"{usual.last:%Y-%m}")
    else:
        period = usual
    own = not actor.may(DENTISTS)
    return Asked(period=period, operator_id="" if own else operator, own=own, csv=csv)


AskedReview = Annotated[Asked, Depends(asked_review)]


def review_scope(store: StoreDep, login: Login) -> Iterator[PracticeScope]:
    """The practice's rows, to read, after the kept figures have caught up with what has changed."""
    bring_up_to_date(store, login.actor.practice_id)
    with store.reading(login.actor.practice_id) as scope:
        yield scope


ReviewScope = Annotated[PracticeScope, Depends(review_scope, scope="function")]


@dataclass(frozen=True, kw_only=True)
class Choice:
    """A further choice of a page: a select with its name in the address."""

    name: str
    label: str
    options: list[tuple[str, str]]
    value: str


@dataclass(frozen=True, kw_only=True)
class Filters:
    """The form of choices above a page; sent by GET, so that the address keeps them and what is ``kept``."""

    action: str
    months: list[tuple[str, str]]
    first: str
    last: str
    operators: list[tuple[str, str]]
    operator: str
    choices: list[Choice]
    kept: list[tuple[str, str]]


def filters(
    scope: PracticeScope,
    asked: Asked,
    action: str,
    *choices: Choice,
    by_operator: bool = True,
    kept: Mapping[str, str] | None = None,
) -> Filters:
    """The form for a page.

    Parameters
    ----------
    by_operator : whether the page can be narrowed to one person; never offered where figures are one's own
    kept : what else the address holds and must go on holding
    """
    offered = by_operator and not asked.own
    unseen = dict(kept or {}) | ({} if offered else {"operator": asked.operator_id})
    return Filters(
        action=action,
        months=_months(asked.period, date.today()),
        first=f"{asked.period.first:%Y-%m}",
        last=f"{asked.period.last:%Y-%m}",
        operators=[("", "Everybody"), *operators(scope)] if offered else [],
        operator=asked.operator_id if offered else "",
        choices=list(choices),
        kept=[(name, value) for name, value in unseen.items() if value],
    )


def _months(period: Period, today: date) -> list[tuple[str, str]]:
    """The months to choose from, the newest first; those asked for are always among them."""
    newest = today.year * 12 + today.month - 1
    offered = set(range(newest - MONTHS_OFFERED + 1, newest + 1))
    offered |= {day.year * 12 + day.month - 1 for day in (period.first, period.last)}
    return [
        (f"{index // 12:04d}-{index % 12 + 1:02d}", f"{MONTHS[index % 12]} {index // 12}")
        for index in sorted(offered, reverse=True)
    ]


def operators(scope: PracticeScope) -> list[tuple[str, str]]:
    """Everybody who may take exposures, by name."""
    may = col(Staff.role).in_([role.value for role in CHAIRSIDE])
    rows = scope.all(scope.select(Staff).where(may).order_by(Staff.name))
    return [(each.id, each.name) for each in rows]


def whose(asked: Asked, actor: Actor, scope: PracticeScope) -> str:
    """A sentence that says whose figures the page shows."""
    if asked.own:
        return (
            f"These figures are your own, {actor.name}: the exposures that you took. "
            f"Each colleague sees their own; a {ROLE_NAMES[Role.DENTIST]} sees everybody's."
        )
    if asked.operator_id:
        name = dict(operators(scope)).get(asked.operator_id, "nobody")
        return f"These figures are of the exposures that {name} took."
    return ""
