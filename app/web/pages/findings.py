"""What the program looks for in an image, how well it does so, and how often people agreed with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.core.quality.rates import Rate
from app.exchange.findings_data import findings_accuracy, findings_described
from app.imaging.finding import FindingCode
from app.web.dependencies import CurrentActor, ReadingDep
from app.web.pages.chairside_findings import SEVERITY_WORDS, finding_name
from app.web.rendering import View, render
from app.work.findings import agreement_of_findings

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, kw_only=True)
class LookedFor:
    """One kind of finding, as it is described."""

    name: str
    meaning: str
    do: str
    cannot_see: str


@dataclass(frozen=True, kw_only=True)
class AgreementLine:
    """How people decided, in words."""

    name: str
    severity: str
    shown: int
    accepted: int
    changed: int
    dismissed: int
    share: str


@dataclass(frozen=True, kw_only=True)
class AccuracyLine:
    """How often a fault put into simulated images was found."""

    name: str
    severity: str
    cause: str
    injected: int
    found: int
    share: str


@dataclass(frozen=True, kw_only=True)
class FindingsView(View):
    """The page."""

    kinds: tuple[LookedFor, ...]
    agreement: tuple[AgreementLine, ...]
    accuracy: tuple[AccuracyLine, ...]
    measured_on: str


def share_words(share: Rate) -> str:
    """A share with its interval."""
    if share.interval is None:
        return "none decided"
    return f"{share.numerator / share.denominator:.0%} ({share.interval.low:.0%} to {share.interval.high:.0%})"


@router.get("/findings")
def show_findings(request: Request, scope: ReadingDep, actor: CurrentActor) -> Response:
    """What is looked for, how well, and what people made of it."""
    described, accuracy = findings_described(), findings_accuracy()
    view = FindingsView(
        heading="What the program looks for",
        kinds=tuple(_kind(code.value, described.get(code.value, {})) for code in FindingCode),
        agreement=tuple(
            AgreementLine(
                name=finding_name(each.code),
                severity=SEVERITY_WORDS[each.severity],
                shown=each.shown,
                accepted=each.accepted,
                changed=each.changed,
                dismissed=each.dismissed,
                share=share_words(each.share),
            )
            for each in agreement_of_findings(scope, actor)
        ),
        accuracy=tuple(_accuracy(each) for each in accuracy.get("codes", ()) if isinstance(each, dict)),
        measured_on=_measured_on(accuracy),
    )
    return render(request, "pages/findings.html", view)


def _kind(code: str, said: dict[str, Any]) -> LookedFor:
    return LookedFor(
        name=finding_name(code),
        meaning=_text(said.get("meaning")) or _usual_meaning(code),
        do=_text(said.get("do")),
        cannot_see=_text(said.get("cannot_see")),
    )


def _text(said: object) -> str:
    if isinstance(said, list):
        return " ".join(str(each) for each in said)
    return str(said or "")


_MEANINGS = {
    "blank": "Nothing of the mouth was recorded.",
    "too_light": "Too few rays reached the receptor, or the file is shown too light.",
    "too_dark": "Too many rays reached the receptor, or the file is shown too dark.",
    "low_contrast": "Enamel, dentine, bone and soft tissue stand too close together.",
    "blurred": "No edge is sharp: patient, tube or receptor moved.",
    "noisy": "Single pixels scatter so much that fine structure drowns.",
    "cone_cut": "A part of the receptor lay outside the beam, behind a straight edge or an arc.",
    "orientation_mismatch": "The image lies otherwise than the receptor of its slot.",
    "duplicate": "Another file of the same exposure.",
    "bordered": "A frame of a scanner or a screenshot stands around the radiograph.",
    "not_a_radiograph": "A photograph, a document or an icon.",
}


def _usual_meaning(code: str) -> str:
    return _MEANINGS.get(code, "")


def _accuracy(each: dict[str, Any]) -> AccuracyLine:
    interval = each.get("interval") or ()
    sensitivity = each.get("sensitivity")
    share = f"{float(sensitivity):.0%}" if isinstance(sensitivity, int | float) else ""
    if share and isinstance(interval, list) and len(interval) == 2:
        share += f" ({float(interval[0]):.0%} to {float(interval[1]):.0%})"
    return AccuracyLine(
        name=finding_name(str(each.get("code", ""))),
        severity=SEVERITY_WORDS.get(str(each.get("severity", "")), ""),
        cause=str(each.get("cause", "")).replace("_", " "),
        injected=int(each.get("injected") or 0),
        found=int(each.get("found") or 0),
        share=share,
    )


def _measured_on(accuracy: dict[str, Any]) -> str:
    images = accuracy.get("images")
    if not isinstance(images, int):
        return ""
    return f"Measured on {images:,} simulated images with known faults, {accuracy.get('date', 'undated')}."
