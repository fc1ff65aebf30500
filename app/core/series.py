"""A series: the exposures of one sitting, against a template and this patient's dentition."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Literal

from app.core import targets
from app.core.dentition import Dentition
from app.core.errors import InputError, did_you_mean
from app.core.exposures import Exposure
from app.core.numbering import Numbering
from app.core.targets import Target
from app.core.teeth import is_posterior
from app.core.templates import Slot, Template

PosteriorContacts = Literal["any", "bitewing"]
POSTERIOR_CONTACTS: tuple[PosteriorContacts, ...] = ("any", "bitewing")


@dataclass(frozen=True, kw_only=True)
class Exemption:
    """A target that this series need not show, and why."""

    target: Target
    reason: str


@dataclass(frozen=True, kw_only=True)
class Policy:
    """What the practice accepts.

    Parameters
    ----------
    posterior_contacts : ``any``: an open contact counts on any view; ``bitewing``: contacts distal to the
        canines count on bitewings only, where the template has bitewings that show them
    """

    posterior_contacts: PosteriorContacts = "any"

    def __post_init__(self) -> None:
        if self.posterior_contacts not in POSTERIOR_CONTACTS:
            raise InputError(
                "policy.posterior_contacts",
                f'no policy "{self.posterior_contacts}". Write any or bitewing.'
                + did_you_mean(self.posterior_contacts, POSTERIOR_CONTACTS),
            )


def is_distal_to_canine(target: Target) -> bool:
    """Whether this is a contact that lies distal to the canine: at least one of its teeth is posterior."""
    return targets.kind(target) == "contact" and any(is_posterior(tooth) for tooth in targets.teeth(target))


@dataclass(frozen=True, kw_only=True)
class Series:
    """Everything the audit needs, valid by construction.

    Raises
    ------
    InputError
        With the field's path: an exposure of an unknown slot, an id used twice, a shortfall of a target that
        the slot does not show, a retake of something that is not an earlier exposure.
    """

    template: Template
    dentition: Dentition = field(default_factory=Dentition)
    exposures: tuple[Exposure, ...] = ()
    exempt: tuple[Exemption, ...] = ()
    policy: Policy = field(default_factory=Policy)
    numbering: Numbering = Numbering.ISO3950

    def __post_init__(self) -> None:
        earlier: set[str] = set()
        for index, exposure in enumerate(self.exposures):
            path = f"exposures[{index}]"
            if exposure.id in earlier:
                raise InputError(f"{path}.id", f'"{exposure.id}" is used twice. Give each exposure its own id')
            if exposure.slot is not None:
                self.template.slot(exposure.slot, f"{path}.slot")
            self._check_shortfalls(exposure, path)
            if exposure.retake_of is not None and exposure.retake_of not in earlier:
                raise InputError(
                    f"{path}.retake_of",
                    f'no earlier exposure "{exposure.retake_of}". Name one that stands before this one, or null.'
                    + did_you_mean(exposure.retake_of, earlier),
                )
            earlier.add(exposure.id)
        for index, exemption in enumerate(self.exempt):
            if not exemption.reason.strip():
                raise InputError(f"exempt[{index}].reason", "an exemption needs a reason: say why in a few words")

    def _check_shortfalls(self, exposure: Exposure, path: str) -> None:
        shows: set[Target] | None = None
        for number, shortfall in enumerate(exposure.shortfalls):
            if shortfall.targets is None:
                continue
            if shows is None:
                shows = set(self.shown_by_slot(exposure.slot))
            for position, target in enumerate(shortfall.targets):
                for each in self.dentition.expand(target):
                    if each not in shows:
                        raise InputError(
                            f"{path}.shortfalls[{number}].targets[{position}]",
                            f'slot "{exposure.slot}" does not show {target} in this dentition, so it cannot be '
                            "missing from it. Name a target that the slot shows." + did_you_mean(target, shows),
                        )

    def shown_by_slot(self, slot_id: str | None) -> Iterator[Target]:
        """What the slot lists, with this patient's roots, whether asked for or not."""
        if slot_id is None:
            return
        for target in self.template.slot(slot_id).shows:
            yield from self.dentition.expand(target)

    def slot_of(self, exposure: Exposure) -> Slot | None:
        """The slot that the exposure was taken for."""
        return None if exposure.slot is None else self.template.slot(exposure.slot)

    def with_exposure(self, exposure: Exposure) -> Series:
        """This series after one more exposure."""
        return replace(self, exposures=(*self.exposures, exposure))
