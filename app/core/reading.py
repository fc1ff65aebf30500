"""One series read once: what is asked, what each slot promises of it, what each exposure shows.

An exposure covers what its slot promises, less what its shortfalls take away, plus what its reviewer also saw;
an exposure that nobody reviewed covers nothing.
"""

from __future__ import annotations

from app.core import targets
from app.core.dentition import asked_targets
from app.core.exposures import TAKES_AWAY, Exposure, ShortfallCode
from app.core.series import Exemption, Series, is_distal_to_canine
from app.core.targets import Target
from app.core.templates import Slot


class Reading:
    """One series read once: what is asked, what each slot promises of it, what each exposure shows."""

    def __init__(self, series: Series) -> None:
        self.series = series
        self._all_asked = asked_targets(series.dentition)
        in_question = frozenset(self._all_asked)
        exempt: dict[Target, Exemption] = {}
        for exemption in series.exempt:
            for each in series.dentition.expand(exemption.target):
                if each in in_question:
                    exempt.setdefault(each, Exemption(target=each, reason=exemption.reason))
        self.exempt = tuple(exempt[target] for target in self._all_asked if target in exempt)
        self.asked = tuple(target for target in self._all_asked if target not in exempt)
        self._asked = frozenset(self.asked)
        self._bitewing_only = self._contacts_for_bitewings_only()
        self._promised: dict[str, frozenset[Target]] = {}

    def _contacts_for_bitewings_only(self) -> frozenset[Target]:
        if self.series.policy.posterior_contacts != "bitewing":
            return frozenset()
        on_bitewings = {
            target
            for slot in self.series.template.slots
            if slot.kind == "bitewing"
            for target in slot.shows
            if targets.kind(target) == "contact"
        }
        return frozenset(target for target in self.asked if target in on_bitewings and is_distal_to_canine(target))

    def counts_on(self, target: Target, slot: Slot | None) -> bool:
        """Whether the practice's policy accepts the target on a view of that slot."""
        return target not in self._bitewing_only or (slot is not None and slot.kind == "bitewing")

    def promised(self, slot_id: str) -> frozenset[Target]:
        """What a good image of the slot shows of what this series asks for, as far as the policy accepts it."""
        known = self._promised.get(slot_id)
        if known is None:
            slot = self.series.template.slot(slot_id)
            known = frozenset(
                target
                for target in self.series.shown_by_slot(slot_id)
                if target in self._asked and self.counts_on(target, slot)
            )
            self._promised[slot_id] = known
        return known

    def in_order(self, some: frozenset[Target] | set[Target]) -> tuple[Target, ...]:
        """The targets in the order in which they are asked for."""
        return tuple(target for target in self.asked if target in some)

    def lost(self, exposure: Exposure) -> dict[Target, list[ShortfallCode]]:
        """What the exposure's shortfalls took of what its slot promises, with the codes that took it."""
        if exposure.slot is None:
            return {}
        taken: dict[Target, list[ShortfallCode]] = {}
        for target in self.promised(exposure.slot):
            for shortfall in exposure.shortfalls:
                if self._takes(shortfall.code, shortfall.targets, target):
                    codes = taken.setdefault(target, [])
                    if shortfall.code not in codes:
                        codes.append(shortfall.code)
        return taken

    def _takes(self, code: ShortfallCode, named: tuple[Target, ...] | None, target: Target) -> bool:
        if named is None:
            return targets.kind(target) in TAKES_AWAY[code]
        return any(target in self.series.dentition.expand(each) for each in named)

    def shown(self, exposure: Exposure) -> frozenset[Target]:
        """What a reviewed exposure shows of what this series asks for; nothing while it is not reviewed."""
        if not exposure.reviewed:
            return frozenset()
        slot = self.series.slot_of(exposure)
        promised = self.promised(slot.id) if slot is not None else frozenset()
        seen_besides = {
            each
            for target in exposure.also_shows
            for each in self.series.dentition.expand(target)
            if each in self._asked and self.counts_on(each, slot)
        }
        return (promised - self.lost(exposure).keys()) | seen_besides
