"""Hypothesis strategies: any dentition, any small template, any series of it."""

from __future__ import annotations

from hypothesis import strategies as st

from app.core.dentition import Dentition, ToothState, asked_targets
from app.core.exposures import Exposure, Shortfall, ShortfallCode
from app.core.series import Exemption, Policy, Series
from app.core.targets import Target, ridge
from app.core.teeth import PERMANENT, PRIMARY
from app.core.templates import Slot, Template

states = st.sampled_from(list(ToothState))


@st.composite
def dentitions(draw: st.DrawFn) -> Dentition:
    kind = draw(st.sampled_from(["permanent", "mixed", "primary"]))
    positions = {"permanent": PERMANENT, "primary": PRIMARY, "mixed": PERMANENT + PRIMARY}[kind]
    return Dentition(kind=kind, states=draw(st.dictionaries(st.sampled_from(positions), states, max_size=20)))


@st.composite
def templates(draw: st.DrawFn, asked: tuple[Target, ...], *, max_slots: int = 7) -> Template:
    """A small template over some of the targets, with burdens that tie and burdens that do not."""
    pool = draw(st.lists(st.sampled_from(asked), min_size=1, max_size=9, unique=True)) if asked else [ridge("18")]
    count = draw(st.integers(1, max_slots))
    slots = tuple(
        Slot(
            id=f"s{number}",
            kind=draw(st.sampled_from(["bitewing", "periapical"])),
            title=f"slot {number}",
            shows=tuple(draw(st.lists(st.sampled_from(pool), max_size=6, unique=True))),
            burden=draw(st.sampled_from([0.1, 0.2, 0.3, 1.0, 1.0, 1.0, 2.0])),
            required=draw(st.booleans()),
        )
        for number in range(count)
    )
    return Template(id="random", title="random", slots=slots)


@st.composite
def exposures(draw: st.DrawFn, template: Template, asked: tuple[Target, ...], number: int) -> Exposure:
    slot = draw(st.sampled_from(template.slots))
    shown = list(slot.shows)
    named = (
        st.none() if not shown else st.one_of(st.none(), st.lists(st.sampled_from(shown), unique=True).map(tuple))
    )
    return Exposure(
        id=f"e{number}",
        slot=slot.id,
        reviewed=draw(st.booleans()),
        shortfalls=tuple(
            Shortfall(code=draw(st.sampled_from(list(ShortfallCode))), targets=draw(named))
            for _ in range(draw(st.integers(0, 2)))
        ),
        also_shows=tuple(draw(st.lists(st.sampled_from(asked), max_size=1))) if asked else (),
    )


@st.composite
def series(draw: st.DrawFn) -> Series:
    dentition = draw(dentitions())
    asked = asked_targets(dentition)
    template = draw(templates(asked))
    exempt = draw(st.lists(st.sampled_from(asked), max_size=2, unique=True)) if asked else []
    return Series(
        template=template,
        dentition=dentition,
        exposures=tuple(draw(exposures(template, asked, number)) for number in range(draw(st.integers(0, 5)))),
        exempt=tuple(Exemption(target=target, reason="not needed") for target in exempt),
        policy=Policy(posterior_contacts=draw(st.sampled_from(["any", "bitewing"]))),
    )
