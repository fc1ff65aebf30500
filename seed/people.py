"""Everybody in the demo. All names are invented; nobody here exists.

The scenario: a practice of three rooms above a chandlery in Quillhaven, a harbour town that is on no map.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from random import Random

PRACTICE_NAME = "Quillhaven Quay Dental (invented)"
DEMO_PASSWORD = "quay-demo-only"  # noqa: S105 - shown on the log-in page of the demo, for throw-away data only


@dataclass(frozen=True)
class StaffMember:
    """One person who works in the demo practice."""

    name: str
    login: str
    role: str
    skill: float
    """Chance that an image of theirs has no fault; for the pattern of faults only."""


STAFF = (
    StaffMember("Dr Oriel Vantongeren", "oriel", "dentist", 0.95),
    StaffMember("Dr Basil Quenneval", "basil", "dentist", 0.94),
    StaffMember("Merrin Tolcarne", "merrin", "assistant", 0.93),
    StaffMember("Ansel Whitbyrne", "ansel", "assistant", 0.88),
    StaffMember("Juno Sparrowell", "juno", "assistant", 0.84),
    StaffMember("Pia Lanthorne", "pia", "front_desk", 1.0),
    StaffMember("Wystan Ferrybridge", "wystan", "administrator", 1.0),
)

ROOMS = ("Lantern room", "Tide room", "Gull room")

RECEPTORS = (
    ("Sensor A, size 2", "direct_sensor", 2),
    ("Sensor B, size 1", "direct_sensor", 1),
    ("Plates, size 2", "phosphor_plate", 2),
    ("Plates, size 1", "phosphor_plate", 1),
    ("Plates, size 0", "phosphor_plate", 0),
)

_FIRST = (
    "Aldis Brannoc Corisande Delphie Emrys Fenella Garrick Hesper Idony Jory Kerensa Lowen Maris Nessa Osric "
    "Perran Quilla Rosmund Senara Tamsel Ulric Verity Wenna Xanthe Ysolde Zennor"
).split()
_LAST = (
    "Ashcombe-Lyle Barrowmere Chantrey-Voss Dunwhistle Ellerquist Farrowby Greysanders Hollowell Inkpenry "
    "Jessopine Kittermaster-Low Larkspurr Mossgrave Netherwick Oldacre-Penn Plumtrevor Quorndale Ravenscoft "
    "Silverlock-Hay Thornapple Underhythe Vellacombe Wrenfield Yarrowby"
).split()


@dataclass(frozen=True)
class InventedPatient:
    """One patient of the demo."""

    chart_number: str
    name: str
    birth_date: date
    phone: str
    email: str


def patients(count: int, random: Random, today: date) -> list[InventedPatient]:
    """Invented patients from 4 to 88 years old, the same for the same random numbers."""
    people: list[InventedPatient] = []
    names: set[str] = set()
    while len(people) < count:
        name = f"{random.choice(_FIRST)} {random.choice(_LAST)}"
        if name in names:
            continue
        names.add(name)
        age_years = random.choice((random.randint(4, 11), *(random.randint(13, 88) for _ in range(5))))
        born = date(today.year - age_years, random.randint(1, 12), random.randint(1, 28))
        number = len(people) + 1
        people.append(
            InventedPatient(
                chart_number=f"Q{1000 + number}",
                name=name,
                birth_date=min(born, today),
                # 01632 960xxx is set aside for fiction, and .invalid can never be an address (RFC 2606).
                phone=f"01632 960{number:03d}",
                email=f"patient{number}@quillhaven.invalid",
            )
        )
    return people
