"""The one place that binds queries to a practice.

Nobody outside reads or writes rows but through a `PracticeScope`. Every query of its session, whoever wrote it, is
narrowed to the practice when it is sent; every new row is stamped with it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar

from sqlalchemy import event, inspect
from sqlalchemy import select as select_core
from sqlalchemy.orm import ORMExecuteState, with_loader_criteria
from sqlalchemy.orm.attributes import flag_modified
from sqlmodel import Session, col, select
from sqlmodel.sql.expression import SelectOfScalar

from app.core.errors import FullcountError
from app.storage.columns import Row
from app.storage.corrections import because, watch
from app.storage.practice import Practice
from app.storage.trail import TrailEntry

R = TypeVar("R", bound=Row)


class NotFound(FullcountError):
    """No such row in this practice (which says nothing about other practices)."""


class RecordMerged(FullcountError):
    """The record goes on in another: pages lead there, and nothing new is written on it."""

    def __init__(self, row_id: str, kept_id: str) -> None:
        super().__init__("this record was merged into another. Open the patient again, and do it there")
        self.row_id = row_id
        self.kept_id = kept_id


class PracticeScope:
    """A session on the rows of one practice; without one (looking up a log-in) on all rows."""

    def __init__(self, session: Session, practice_id: str) -> None:
        self.session = session
        self.practice_id = practice_id
        if practice_id:
            event.listen(session, "do_orm_execute", self._narrow)
        watch(session)

    def _narrow(self, state: ORMExecuteState) -> None:
        mapped = {mapper.class_ for mapper in state.all_mappers}
        own = [
            with_loader_criteria(table, col(table.practice_id) == self.practice_id, include_aliases=True)
            for table in mapped
            if issubclass(table, Row)
        ]
        if TrailEntry in mapped:
            # What belongs to no practice (a log-in with an unknown name) tells of no patient: anybody's to read.
            whose = col(TrailEntry.practice_id).in_((self.practice_id, ""))
            own.append(with_loader_criteria(TrailEntry, whose, include_aliases=True))
        state.statement = state.statement.options(*own)

    def practice(self) -> Practice:
        """The practice itself."""
        found = self.session.get(Practice, self.practice_id)
        if found is None:
            raise NotFound("this practice is not in the database")
        return found

    def select(self, table: type[R]) -> SelectOfScalar[R]:
        """A query over the practice's rows of a table."""
        return select(table).where(table.practice_id == self.practice_id)

    def all(self, query: SelectOfScalar[R]) -> Sequence[R]:
        """The rows of a query made by `select`."""
        return self.session.exec(query).all()

    def first(self, query: SelectOfScalar[R]) -> R | None:
        """The first row of a query made by `select`."""
        return self.session.exec(query).first()

    def find(self, table: type[R], row_id: str | None) -> R | None:
        """The practice's row with that id, or None."""
        if not row_id:
            return None
        row = self.session.get(table, row_id)
        return row if row is not None and row.practice_id == self.practice_id else None

    def get(self, table: type[R], row_id: str, what: str) -> R:
        """The practice's row with that id.

        Raises
        ------
        NotFound
            Says ``what`` was looked for.
        RecordMerged
            A patient's record that goes on in another.
        """
        row = self.find(table, row_id)
        if row is None:
            raise NotFound(f"no such {what} in this practice. Go back and choose it from the list")
        kept_id = getattr(row, "merged_into", None)
        if kept_id is not None:
            raise RecordMerged(row_id, kept_id)
        return row

    def held(self, table: type[R], row_id: str, what: str) -> R:
        """The row as it is now, kept from others until this transaction ends; a reader takes it as it stands.

        On SQLite the whole transaction has the write lock already; elsewhere the row is locked.
        """
        bind = self.session.get_bind()
        if bind.dialect.name != "sqlite" and bind.get_execution_options().get("writer", False):
            self.session.flush()
            self.session.get(table, row_id, with_for_update=True, populate_existing=True)
        return self.get(table, row_id, what)

    def is_taken_anywhere(self, table: type[R], column: str, value: object) -> bool:
        """Whether any practice's row has the value: log-in names are unique in the whole database.

        The one look beyond the practice, and it answers only yes or no.
        """
        # A query of a bare column, without its class, is not narrowed.
        bare = inspect(table).local_table.c[column]
        return self.session.execute(select_core(bare).where(bare == value).limit(1)).first() is not None

    def add(self, row: R, *, at_once: bool = True) -> R:
        """Put a new row into the practice.

        Parameters
        ----------
        at_once : whether the database hears of it now, or with whatever comes next
        """
        row.practice_id = self.practice_id
        self.session.add(row)
        if at_once:
            self.session.flush()
        return row

    def because(self, reason: str) -> None:
        """Say why what is corrected in this transaction is corrected; it stands beside each correction."""
        because(self.session, reason)

    @contextmanager
    def uncorrected(self) -> Iterator[None]:
        """Write without leaving corrections: for a value that stands there for a moment only."""
        self.session.info["uncorrected"] = True
        try:
            yield
        finally:
            self.session.info["uncorrected"] = False

    def changed(self, row: Any, *names: str) -> None:
        """Say that JSON values of a row were changed, and write them."""
        for name in names:
            # A value that was put there anew is known to be new; to flag it would forget what stood there before.
            if not inspect(row).attrs[name].history.has_changes():
                flag_modified(row, name)
        self.session.add(row)
        self.session.flush()
