"""Charts of the demo patients: teeth lost, replaced or not yet through, by age.

Shares of lost and restored teeth are invented for the demo; eruption follows the chart in the published values
(common practice: under 6 primary, 6 to 12 mixed).
"""

from __future__ import annotations

from random import Random

from app.core.dentition import Dentition, ToothState
from app.core.teeth import PERMANENT, PRIMARY, ordinal

THIRD_MOLARS = tuple(tooth for tooth in PERMANENT if ordinal(tooth) == 8)
OFTEN_LOST_FIRST = ("36", "46", "26", "16", "37", "47", "27", "17", "25", "15", "24", "14")


def chart_at(age_years: int, random: Random) -> Dentition:
    """A believable chart for the age."""
    if age_years < 6:
        return Dentition(kind="primary")
    if age_years < 12:
        return _mixed(age_years)
    states = {tooth: ToothState.MISSING for tooth in THIRD_MOLARS if random.random() < 0.6}
    if age_years < 19:
        states.update({tooth: ToothState.UNERUPTED for tooth in THIRD_MOLARS if tooth not in states})
        return _with_orthodontic_extraction(states) if random.random() < 0.12 else Dentition(states=states)
    if age_years > 72 and random.random() < 0.15:
        return Dentition(states=dict.fromkeys(PERMANENT, ToothState.MISSING))
    lost = OFTEN_LOST_FIRST[: max(0, min(len(OFTEN_LOST_FIRST), int(random.gauss((age_years - 35) / 10, 1.6))))]
    for tooth in lost:
        states[tooth] = random.choice(
            (
                ToothState.MISSING,
                ToothState.MISSING,
                ToothState.IMPLANT,
                ToothState.PONTIC,
                ToothState.ROOT_REMNANT,
            )
        )
    return Dentition(states=states)


def _with_orthodontic_extraction(states: dict[str, ToothState]) -> Dentition:
    first_premolars = dict.fromkeys(("14", "24", "34", "44"), ToothState.MISSING)
    closed = (("15", "13"), ("23", "25"), ("45", "43"), ("33", "35"))
    return Dentition(states=states | first_premolars, closed_spaces=closed)


def _mixed(age_years: int) -> Dentition:
    """Incisors and first molars through; canines and primary molars shed from ten years on."""
    through = {1, 2, 6} if age_years < 10 else {1, 2, 4, 6}
    shed = {1, 2} if age_years < 10 else {1, 2, 4}
    states: dict[str, ToothState] = {}
    for tooth in PERMANENT:
        if ordinal(tooth) <= 7:
            states[tooth] = ToothState.PRESENT if ordinal(tooth) in through else ToothState.UNERUPTED
    states.update({tooth: ToothState.PRESENT for tooth in PRIMARY if ordinal(tooth) not in shed})
    return Dentition(kind="mixed", states=states)
