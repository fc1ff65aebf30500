"""Builds the demo practice: about sixty invented patients and two years of series, all through the use cases.

The same every time for the same day: names, charts, faults and pictures come from one seed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from random import Random

from app.core.errors import FullcountError
from app.core.exposures import Shortfall
from app.core.reading import Reading
from app.core.targets import Target
from app.core.templates import Slot, Template
from app.imaging.examine import Examiner
from app.imaging.workers import Workers
from app.storage.database import Store
from app.storage.people import Patient
from app.storage.series import SeriesRow
from app.work import accounts
from app.work.actor import Actor
from app.work.assign import keep_assignment, propose_assignment
from app.work.audit_series import audit_of, frozen_template
from app.work.charts import read_chart
from app.work.close import close_series
from app.work.incoming import IncomingFile
from app.work.load_images import load_images
from app.work.patients import register_patient, save_chart
from app.work.practice import add_receptor, add_room
from app.work.retakes import order_retake
from app.work.review import review_exposure
from app.work.start_series import start_series
from seed.acting import acting, named
from seed.bookings import add_calendar
from seed.charts import chart_at
from seed.decisions import decide_findings
from seed.faults import faults_of
from seed.grading import add_grading
from seed.letters import add_letters_and_import
from seed.people import DEMO_PASSWORD, PRACTICE_NAME, RECEPTORS, ROOMS, STAFF, InventedPatient, patients
from seed.pictures import Request, picture_of, request_for
from seed.privacy import add_privacy
from seed.quality import keep_record
from seed.recall import fill_recall

PATIENTS = 60
EARLIER_WIDTH_PX, TODAYS_WIDTH_PX = 400, 900
"""Earlier series are looked at small; today's are reviewed."""
SEED = 20260327


@dataclass(frozen=True)
class DemoLogIn:
    """A log-in that the demo shows openly."""

    name: str
    login: str
    role: str
    password: str


def log_ins() -> tuple[DemoLogIn, ...]:
    """Everybody of the demo practice."""
    return tuple(DemoLogIn(each.name, each.login, each.role, DEMO_PASSWORD) for each in STAFF)


def build(
    folder: Path,
    today: date | None = None,
    *,
    patient_count: int = PATIENTS,
    picture: Callable[[Request], bytes] = picture_of,
) -> tuple[DemoLogIn, ...]:
    """Fill an empty data folder, and answer the demo's log-ins.

    Parameters
    ----------
    today : the day up to which series are made; the real day by default
    picture : makes the file of each image
    """
    store = Store(folder, durable=False)
    workers = Workers()
    try:
        store.migrate()
        _Builder(store, today or date.today(), picture, workers).build(patient_count)
    finally:
        workers.close()
        store.close()
    return log_ins()


class _Builder:
    def __init__(self, store: Store, today: date, picture: Callable[[Request], bytes], examiner: Examiner) -> None:
        self.store = store
        self.examiner = examiner
        self.picture = picture
        self.width = EARLIER_WIDTH_PX
        self.mouths: dict[str, int] = {}
        self.today = today
        self.random = Random(SEED)
        self.actors: dict[str, Actor] = {}
        self.skill = {each.login: each.skill for each in STAFF}
        self.rooms: list[str] = []
        self.receptors: dict[int, str] = {}
        self.pictures = 0

    def build(self, patient_count: int) -> None:
        self._practice()
        people = patients(patient_count, self.random, self.today)
        rows = [(person, self._patient(person)) for person in people]
        for number, (person, row) in enumerate(rows):
            self._history(number, person, row)
        self._under_way([row for person, row in rows if person.birth_date.year < self.today.year - 20])
        decide_findings(self.store, self.actors[STAFF[0].login])
        keep_record(self.store, self.actors, self.today)
        add_grading(self.store, {login: self.actors[login] for login in ("oriel", "basil")}, self.today)
        add_calendar(self.store, self.actors, self.rooms, [row.id for _, row in rows], self.today)
        add_letters_and_import(self.store, self.actors["pia"], self.today)
        fill_recall(self.store, self.actors["oriel"], self.actors["pia"], [row for _, row in rows], self.today)
        add_privacy(self.store, self.actors["oriel"], self.actors["pia"], self.today)

    def _practice(self) -> None:
        first, *others = STAFF
        dentist = accounts.first_start(
            self.store, practice_name=PRACTICE_NAME, name=first.name, login=first.login, password=DEMO_PASSWORD
        )
        self.actors[first.login] = dentist
        with acting(self.store, dentist) as scope:
            for each in others:
                staff = accounts.add_staff(
                    scope, dentist, name=each.name, login=each.login, role=each.role, password=DEMO_PASSWORD
                )
                self.actors[each.login] = accounts.actor_of(staff)
            self.rooms = [add_room(scope, dentist, name).id for name in ROOMS]
            for name, kind, size in RECEPTORS:
                row = add_receptor(scope, dentist, name=name, kind=kind, size=str(size))
                self.receptors.setdefault(size, row.id)

    def _patient(self, person: InventedPatient) -> Patient:
        dentist = self.actors[STAFF[0].login]
        age_years = self.today.year - person.birth_date.year
        with acting(self.store, dentist) as scope:
            row = register_patient(
                scope,
                dentist,
                chart_number=person.chart_number,
                name=person.name,
                birth_date=person.birth_date.isoformat(),
                phone=person.phone,
                email=person.email,
                preferred_contact=self.random.choice(("phone", "email", "letter", "")),
                today=self.today,
            )
            self.mouths[row.id] = int(person.chart_number[1:])
            return save_chart(scope, dentist, row.id, chart_at(age_years, self.random))

    def _history(self, number: int, person: InventedPatient, row: Patient) -> None:
        """One full series or bitewings about every year, some patients long overdue."""
        age_years = self.today.year - person.birth_date.year
        day = self.today - timedelta(days=self.random.randint(20, 720))
        if row.dentition_kind == "primary":
            self._whole(row, "bitewings-2" if number % 2 else "primary-8", day)
        elif row.dentition_kind == "mixed":
            self._whole(row, "bitewings-2" if number % 2 else "mixed-12", day)
        elif all(state == "missing" for state in row.states.values()) and len(row.states) == 32:
            self._whole(row, "edentulous-14", day)
        elif number % 5 < 2 and age_years >= 18:
            self._whole(row, self.random.choice(("adult-18", "adult-18", "adult-20")), day)
        else:
            self._whole(row, "bitewings-4", day)
            if day > self.today - timedelta(days=300):
                self._whole(row, "bitewings-4", day - timedelta(days=self.random.randint(340, 420)))

    def _whole(self, patient: Patient, template_key: str, day: date) -> None:
        """A series from its start to its closing."""
        operator = self.random.choice(("merrin", "merrin", "ansel", "ansel", "juno", "basil"))
        begun = datetime.combine(day, time(8 + self.random.randint(0, 8), self.random.randint(0, 59)), tzinfo=UTC)
        series = self._start(patient, template_key, day, operator)
        self._take(series, operator, begun)
        self._retake(series, operator, begun + timedelta(minutes=15))
        self._close(series, operator, begun + timedelta(minutes=25))

    def _start(self, patient: Patient, template_key: str, day: date, operator: str) -> SeriesRow:
        dentist = self.actors[self.random.choice(("oriel", "basil"))]
        why = (
            "New patient: signs of generalised disease"
            if "bitewing" not in template_key
            else "Recall: caries risk"
        )
        with acting(self.store, dentist) as scope:
            return start_series(
                scope,
                self.actors[operator],
                patient_id=patient.id,
                template_key=template_key,
                prescribed_by=dentist.staff_id,
                reason=why,
                room_id=self.random.choice(self.rooms),
                today=day,
            )

    def _take(
        self, series: SeriesRow, operator: str, begun: datetime, *, review: bool = True, assign: bool = True
    ) -> None:
        """Every required view once, in order, with the operator's share of faults."""
        template = frozen_template(series)
        faults: dict[str, tuple[Shortfall, ...]] = {}
        promises = self._promises(series)
        files: list[IncomingFile] = []
        for number, slot in enumerate(template.required_slots):
            promised = promises[slot.id]
            faults[slot.id] = faults_of(slot, promised, self.skill[operator], self.random)
            moment = begun + timedelta(seconds=40 * number)
            files.append(self._file(series, slot, faults[slot.id], moment, slot_id=None))
        self._load(series, files, operator)
        if not assign:
            return
        actor = self.actors[operator]
        with acting(self.store, actor) as scope:
            proposals = propose_assignment(scope, series.id)
            keep_assignment(scope, actor, series.id, {each.exposure_id: each.slot for each in proposals})
            for each in proposals:
                if review or self.random.random() < 0.5:
                    shortfalls = [_written(fault) for fault in faults[str(each.slot)]]
                    review_exposure(
                        scope, actor, each.exposure_id, shortfalls=shortfalls, at=begun + timedelta(minutes=14)
                    )

    def _promises(self, series: SeriesRow) -> dict[str, tuple[Target, ...]]:
        with self.store.reading(series.practice_id) as scope:
            reading = Reading(audit_of(scope, series.id).series)
        return {
            slot.id: reading.in_order(reading.promised(slot.id)) for slot in frozen_template(series).required_slots
        }

    def _load(self, series: SeriesRow, files: list[IncomingFile], operator: str) -> list[str]:
        """Load files together, on all cores; ids of their exposures."""
        actor = self.actors[operator]
        with named(actor):
            outcomes = load_images(self.store, actor, series.id, files, examiner=self.examiner)
        ids: list[str] = []
        for each in outcomes:
            if isinstance(each, FullcountError):
                raise each
            ids.append(each.exposure.id)
        return ids

    def _file(
        self,
        series: SeriesRow,
        slot: Slot,
        faults: tuple[Shortfall, ...],
        taken_at: datetime,
        *,
        slot_id: str | None,
    ) -> IncomingFile:
        self.pictures += 1
        size = slot.receptor.size if slot.receptor is not None else 2
        return IncomingFile(
            data=self.picture(
                request_for(
                    self.pictures,
                    slot,
                    read_chart(series.dentition),
                    faults,
                    mouth=self.mouths[series.patient_id],
                    width=self.width,
                )
            ),
            name=f"exposure-{self.pictures:05d}.jpg",
            slot=slot_id,
            receptor_id=self.receptors.get(size),
            taken_at=taken_at,
            # Invented mouths of one kind are more alike than people's, and stand as still for a retake.
            sure=True,
        )

    def _retake(self, series: SeriesRow, operator: str, when: datetime) -> None:
        """What the plan asks for; now and then a patient who could bear no more."""
        actor = self.actors[operator]
        with self.store.reading(actor.practice_id) as scope:
            audited = audit_of(scope, series.id)
        template: Template = frozen_template(series)
        for planned in audited.audit.plan.exposures:
            if self.random.random() < 0.15:
                continue
            with acting(self.store, actor) as scope:
                order_retake(
                    scope, actor, series.id, slot=planned.slot, authorised_by=series.prescribed_by,
                    reason=_reason_for(planned.slot, audited.exposures), at=when,
                )  # fmt: skip
            slot = template.slot(planned.slot)
            file = self._file(series, slot, (), when + timedelta(minutes=2), slot_id=planned.slot)
            (taken,) = self._load(series, [file], operator)
            with acting(self.store, actor) as scope:
                review_exposure(scope, actor, taken, at=when + timedelta(minutes=4))

    def _close(self, series: SeriesRow, operator: str, when: datetime) -> None:
        actor = self.actors[operator]
        with acting(self.store, actor) as scope:
            complete = audit_of(scope, series.id).audit.verdict == "complete"
            close_series(
                scope,
                actor,
                series.id,
                dentist_id="" if complete else series.prescribed_by,
                reason="" if complete else "patient could not bear another exposure today",
                at=when,
            )

    def _under_way(self, adults: list[Patient]) -> None:
        """Four series of today: just loaded, half reviewed, faults to retake, and complete but not closed."""
        self.width = TODAYS_WIDTH_PX
        morning = datetime.combine(self.today, time(8, 5), tzinfo=UTC)
        loaded, half, faulty, finished = adults[:4]
        self._take(self._start(loaded, "adult-18", self.today, "merrin"), "merrin", morning, assign=False)
        self._take(self._start(half, "adult-20", self.today, "ansel"), "ansel", morning, review=False)
        self._take(self._start(faulty, "adult-18", self.today, "juno"), "juno", morning)
        done = self._start(finished, "bitewings-4", self.today, "merrin")
        self._take(done, "merrin", morning)
        self._retake(done, "merrin", morning + timedelta(minutes=15))


def _written(fault: Shortfall) -> dict[str, object]:
    written: dict[str, object] = {"code": fault.code.value}
    if fault.targets is not None:
        written["targets"] = list(fault.targets)
    return written


def _reason_for(slot: str, exposures: object) -> str:
    """The fault of the slot's own image; where another view lost it, that the view was not taken."""
    own = [row for row in exposures if row.slot == slot]  # type: ignore[attr-defined]
    if own and own[-1].shortfalls:
        return str(own[-1].shortfalls[0]["code"])
    return "not_taken" if not own else "wrong_region"
