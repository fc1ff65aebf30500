"""What the people of the demo made of the program's findings: mostly they agree, now and then they do not.

Decided like in the practice: where the review names the fault that the program proposed, it was accepted; another
fault, changed; none, dismissed. Series still under way keep theirs open.
"""

from __future__ import annotations

from random import Random

from app.storage.columns import now
from app.storage.database import Store
from app.storage.findings import FindingRow
from app.storage.series import ExposureRow, SeriesRow
from app.work.actor import Actor
from seed.acting import acting

SEED = 20260402
UNDECIDED = 0.2
"""Share of the findings of closed series that nobody decided on."""


def decide_findings(store: Store, actor: Actor) -> None:
    """Decide on the findings of every closed series as its review stands."""
    random = Random(SEED)
    with acting(store, actor) as scope:
        closed = {each.id for each in scope.all(scope.select(SeriesRow)) if each.status == "closed"}
        exposures = {each.id: each for each in scope.all(scope.select(ExposureRow)) if each.series_id in closed}
        # By image and number, not by id: ids are random, the demo is not.
        found = [each for each in scope.all(scope.select(FindingRow)) if each.exposure_id in exposures]
        found.sort(key=lambda each: (exposures[each.exposure_id].original_name, each.number))
        for each in found:
            exposure = exposures[each.exposure_id]
            if each.proposes is None or random.random() < UNDECIDED:
                continue
            # The series are closed, so what the review made of it is written down as the decision.
            codes = [str(fault["code"]) for fault in exposure.shortfalls]
            each.decision = "accepted" if each.proposes in codes else "changed" if codes else "dismissed"
            each.chosen = each.proposes if each.decision == "accepted" else codes[0] if codes else None
            each.decided_by, each.decided_at = exposure.reviewed_by, exposure.reviewed_at or now()
            scope.session.add(each)
