"""The audit as JSON, ``format: "fullcount-audit/1"``."""

from __future__ import annotations

from typing import Any

from app.core.coverage import Audit
from app.core.targets import label

AUDIT_FORMAT = "fullcount-audit/1"


def audit_report(audit: Audit) -> dict[str, Any]:
    """The JSON object of an audit; every gap and exemption with its label in the numbering asked for."""
    numbering = audit.series.numbering
    return {
        "format": AUDIT_FORMAT,
        "verdict": audit.verdict,
        "counts": {
            "asked": len(audit.asked),
            "covered": len(audit.coverage),
            "gaps": len(audit.gaps),
            "exempt": len(audit.exempt),
        },
        "coverage": {target: list(exposures) for target, exposures in audit.coverage.items()},
        "gaps": [
            {
                "target": gap.target,
                "label": label(gap.target, numbering),
                "reason": gap.reason,
                "seen_on": [{"exposure": loss.exposure, "code": loss.code.value} for loss in gap.seen_on],
            }
            for gap in audit.gaps
        ],
        "exempt": [
            {"target": each.target, "label": label(each.target, numbering), "reason": each.reason}
            for each in audit.exempt
        ],
        "retake_plan": {
            "exposures": [
                {"slot": planned.slot, "closes": list(planned.closes), "advice": planned.advice}
                for planned in audit.plan.exposures
            ],
            "count": audit.plan.count,
            "burden": audit.plan.burden,
            "proved_minimal": audit.plan.proved_minimal,
            "unclosable": list(audit.plan.unclosable),
            "repeat_every_fault_count": audit.plan.repeat_every_fault_count,
        },
    }
