"""The audit, claim by claim, on small templates worked out by hand."""

from __future__ import annotations

import pytest

from app.core.coverage import audit
from app.core.dentition import Dentition, ToothState
from app.core.errors import InputError
from app.core.exposures import Exposure, Shortfall, ShortfallCode
from app.core.series import Exemption, Policy, Series
from app.core.targets import parse_target
from app.core.templates import Slot, Template

# A mouth of two teeth: 16 and 17, everything else out of question.
TWO_MOLARS = Dentition(kind="mixed", states={"17": ToothState.PRESENT, "16": ToothState.PRESENT})
FIRST_NAMED = "exposures[0].shortfalls[0].targets[0]"
ASKED = {
    "crown:17", "apex:17:MB", "apex:17:DB", "apex:17:P", "distal:17", "contact:17-16",
    "crown:16", "apex:16:MB", "apex:16:DB", "apex:16:P",
}  # fmt: skip


def slot(slot_id: str, *shows: str, kind: str = "periapical", **more: object) -> Slot:
    targets = tuple(parse_target(text, "shows") for text in shows)
    return Slot(id=slot_id, kind=kind, title=slot_id, shows=targets, **more)  # type: ignore[arg-type]


BITEWING = slot("bw", "contact:17-16", "crown:17", "crown:16", kind="bitewing")
MOLAR = slot("pa", "crown:17", "crown:16", "apex:17:*", "apex:16:*", "contact:17-16", "distal:17")
EXTRA = slot("extra", "apex:17:*", required=False)
TEMPLATE = Template(id="two", title="Two molars", slots=(BITEWING, MOLAR, EXTRA))


def exposure(
    name: str, where: str | None, *faults: str | Shortfall, reviewed: bool = True, **more: object
) -> Exposure:
    shortfalls = tuple(
        fault if isinstance(fault, Shortfall) else Shortfall(code=ShortfallCode(fault)) for fault in faults
    )
    return Exposure(id=name, slot=where, reviewed=reviewed, shortfalls=shortfalls, **more)  # type: ignore[arg-type]


def lost(code: str, *targets: str) -> Shortfall:
    return Shortfall(code=ShortfallCode(code), targets=tuple(parse_target(text, "t") for text in targets))


def series(*exposures: Exposure, template: Template = TEMPLATE, **more: object) -> Series:
    return Series(template=template, dentition=TWO_MOLARS, exposures=exposures, **more)  # type: ignore[arg-type]


def test_good_images_make_it_complete_and_the_plan_empty() -> None:
    result = audit(series(exposure("e1", "bw"), exposure("e2", "pa")))

    assert result.verdict == "complete"
    assert set(result.asked) == ASKED == set(result.coverage)
    assert result.coverage["contact:17-16"] == ("e1", "e2")
    assert (result.plan.count, result.plan.burden, result.plan.proved_minimal) == (0, 0.0, True)


def test_an_unreviewed_image_covers_nothing_and_the_verdict_waits_for_the_review() -> None:
    result = audit(series(exposure("e1", "pa", reviewed=False)))

    assert result.verdict == "unreviewed"
    assert not result.coverage
    assert {gap.reason for gap in result.gaps} == {"not_reviewed"}
    assert [planned.slot for planned in result.plan.exposures] == ["pa"]


def test_one_gap_beyond_the_unreviewed_images_makes_it_incomplete() -> None:
    result = audit(series(exposure("e1", "bw", reviewed=False)))

    assert result.verdict == "incomplete"
    assert result.gap(parse_target("contact:17-16", "t")).reason == "not_reviewed"  # type: ignore[union-attr]
    assert result.gap(parse_target("apex:16:P", "t")).reason == "not_taken"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("code", "kinds"),
    [
        ("overlap", {"contact"}),
        ("apex_cut_off", {"apex"}),
        ("foreshortened", {"apex"}),
        ("elongated", {"apex"}),
        ("crown_cut_off", {"crown", "contact", "distal"}),
        *((code, {"crown", "contact", "distal", "apex"}) for code in (
            "wrong_region", "cone_cut", "blurred", "too_light", "too_dark", "double_exposed",
            "reversed_receptor", "bent_receptor", "artifact", "blank",
        )),
    ],
)  # fmt: skip
def test_a_shortfall_without_targets_takes_what_its_code_takes(code: str, kinds: set[str]) -> None:
    result = audit(series(exposure("e1", "pa", code)))

    assert {gap.target.split(":")[0] for gap in result.gaps} == kinds
    assert all(gap.reason == "not_shown" for gap in result.gaps)
    assert {(loss.exposure, loss.code) for gap in result.gaps for loss in gap.seen_on} == {("e1", code)}


def test_a_shortfall_with_targets_takes_only_those() -> None:
    result = audit(series(exposure("e1", "pa", lost("cone_cut", "apex:17:P", "crown:17"))))

    assert result.gap_targets() == {"apex:17:P", "crown:17"}


def test_a_shortfall_with_an_empty_list_takes_nothing_but_still_counts_as_a_fault() -> None:
    result = audit(series(exposure("e1", "pa", lost("artifact")), exposure("e2", "bw")))

    assert result.verdict == "complete"
    assert result.plan.repeat_every_fault_count == 1


def test_what_the_reviewer_also_saw_counts_and_no_shortfall_takes_it_away() -> None:
    also = (parse_target("apex:17:P", "t"), parse_target("crown:16", "t"), parse_target("crown:11", "t"))
    result = audit(series(exposure("e1", "bw", "blank", also_shows=also)))

    assert set(result.coverage) == {"apex:17:P", "crown:16"}


def test_an_image_without_a_slot_shows_only_what_its_reviewer_saw() -> None:
    also = (parse_target("distal:17", "t"),)
    result = audit(series(exposure("e1", None, also_shows=also), exposure("e2", None, reviewed=False)))

    assert set(result.coverage) == {"distal:17"}
    assert result.verdict == "incomplete"


def test_exempt_targets_are_taken_out_and_listed_with_their_reason() -> None:
    exempt = (
        Exemption(target=parse_target("apex:17:*", "t"), reason="seen on the panoramic"),
        Exemption(target=parse_target("crown:11", "t"), reason="not asked for anyway"),
    )
    result = audit(series(exposure("e1", "bw"), exempt=exempt))

    assert [each.target for each in result.exempt] == ["apex:17:MB", "apex:17:DB", "apex:17:P"]
    assert {each.reason for each in result.exempt} == {"seen on the panoramic"}
    assert len(result.asked) == len(ASKED) - 3


def test_a_target_that_no_slot_shows_is_unclosable_and_says_so() -> None:
    bare = Template(id="bare", title="bare", slots=(BITEWING,))
    result = audit(series(exposure("e1", "bw"), template=bare))

    assert {gap.reason for gap in result.gaps} == {"not_in_template"}
    assert set(result.plan.unclosable) == result.gap_targets()
    assert result.plan.count == 0
    assert result.verdict == "incomplete"


def test_a_supplementary_slot_keeps_a_target_in_the_template_and_may_be_planned() -> None:
    cheap = slot("cheap", "apex:17:*", required=False, burden=0.5)
    template = Template(id="t", title="t", slots=(BITEWING, MOLAR, cheap))
    result = audit(series(exposure("e1", "pa", lost("apex_cut_off", "apex:17:P")), template=template))

    assert [planned.slot for planned in result.plan.exposures] == ["cheap"]
    assert result.plan.burden == 0.5


def test_of_equal_plans_the_first_in_template_order_is_taken() -> None:
    result = audit(series(exposure("e1", "pa", lost("overlap", "contact:17-16"))))

    assert [planned.slot for planned in result.plan.exposures] == ["bw"]


def test_under_the_bitewing_policy_a_periapical_does_not_close_a_posterior_contact() -> None:
    policy = Policy(posterior_contacts="bitewing")
    result = audit(series(exposure("e1", "pa"), policy=policy))

    gap = result.gap(parse_target("contact:17-16", "t"))
    assert gap is not None
    assert gap.reason == "not_taken"
    assert [planned.slot for planned in result.plan.exposures] == ["bw"]


def test_the_bitewing_policy_asks_nothing_where_no_bitewing_shows_the_contact() -> None:
    template = Template(id="pa-only", title="pa only", slots=(MOLAR,))
    result = audit(series(exposure("e1", "pa"), template=template, policy=Policy(posterior_contacts="bitewing")))

    assert result.verdict == "complete"


def test_the_bitewing_policy_applies_to_what_the_reviewer_also_saw() -> None:
    also = (parse_target("contact:17-16", "t"),)
    result = audit(series(exposure("e1", "pa", also_shows=also), policy=Policy(posterior_contacts="bitewing")))

    assert "contact:17-16" in result.gap_targets()


def test_a_fault_that_another_image_makes_up_for_needs_no_retake_and_says_which() -> None:
    result = audit(series(exposure("e1", "bw", "overlap"), exposure("e2", "pa")))

    assert result.verdict == "complete"
    (made_up,) = result.made_up_for
    assert (made_up.exposure, made_up.lost, made_up.shown_by) == ("e1", ("contact:17-16",), ("e2",))
    assert result.plan.repeat_every_fault_count == 1


def test_a_fault_already_repeated_is_not_told_as_made_up_for() -> None:
    result = audit(
        series(exposure("e1", "bw", "overlap"), exposure("e2", "pa"), exposure("e3", "bw", retake_of="e1"))
    )

    assert result.made_up_for == ()
    assert result.plan.repeat_every_fault_count == 0


def test_repeat_every_fault_counts_missing_and_latest_faulty_required_slots() -> None:
    """The supplementary slot never counts; a good retake takes its slot out."""
    result = audit(series(exposure("e1", "pa", "blurred"), exposure("e2", "pa"), exposure("e3", "pa", "blank")))

    assert result.plan.repeat_every_fault_count == 2


@pytest.mark.parametrize(
    ("bad", "path", "words"),
    [
        ([exposure("e1", "ba")], "exposures[0].slot", 'Did you mean "pa"?'),
        ([exposure("e1", "pa"), exposure("e1", "pa")], "exposures[1].id", "twice"),
        ([exposure("e1", "pa", retake_of="e1")], "exposures[0].retake_of", "no earlier exposure"),
        ([exposure("e1", "bw", lost("overlap", "distal:17"))], FIRST_NAMED, "does not show"),
        ([exposure("e1", "pa", lost("blurred", "apex:17:R"))], FIRST_NAMED, "does not show"),
    ],
)  # fmt: skip
def test_a_series_that_cannot_be_is_refused_at_its_field(bad: list[Exposure], path: str, words: str) -> None:
    with pytest.raises(InputError) as error:
        series(*bad)

    assert error.value.path == path
    assert words in error.value.message
