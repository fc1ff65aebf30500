"""Series as JSON, ``format: "fullcount-series/1"``: read with every field checked, and written back the same."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from app.core.dentition import Dentition, ToothState
from app.core.errors import InputError, did_you_mean
from app.core.exposures import Exposure, Shortfall, ShortfallCode
from app.core.numbering import Numbering
from app.core.series import Exemption, Policy, Series
from app.core.targets import Target, parse_target
from app.core.teeth import Tooth, check_tooth
from app.core.templates import Template
from app.exchange.fields import Fields, built_under, kind_name, text_at
from app.exchange.template_file import read_template, write_template

SERIES_FORMAT = "fullcount-series/1"

SERIES_KEYS = (
    "format",
    "template",
    "numbering",
    "dentition_kind",
    "dentition",
    "roots",
    "closed_spaces",
    "exempt",
    "policy",
    "exposures",
)
EXPOSURE_KEYS = ("id", "slot", "reviewed", "shortfalls", "also_shows", "retake_of")


def read_series(data: object, templates: Mapping[str, Template]) -> Series:
    """The series that a JSON object describes.

    Parameters
    ----------
    data : decoded JSON
    templates : the templates that may be named by their id

    Raises
    ------
    InputError
        With the path of the first field that cannot be, like ``exposures[3].slot``.
    """
    fields = Fields(data, "", SERIES_KEYS)
    found = fields.raw("format")
    if found != SERIES_FORMAT:
        raise InputError("format", f'this program reads "{SERIES_FORMAT}"; got {found!r}. Correct the format')
    return Series(
        template=_read_template_or_id(fields.raw("template"), templates),
        numbering=_read_numbering(fields),
        dentition=read_dentition(fields),
        exempt=tuple(_read_exemption(member, path) for path, member in fields.items("exempt")),
        policy=_read_policy(fields),
        exposures=tuple(_read_exposure(member, path) for path, member in fields.items("exposures")),
    )


def _read_template_or_id(value: object, templates: Mapping[str, Template]) -> Template:
    if isinstance(value, str):
        known = templates.get(value)
        if known is None:
            raise InputError(
                "template",
                f'no template "{value}". Write one of {", ".join(templates)}, or a template object.'
                + did_you_mean(value, templates),
            )
        return known
    return read_template(value, "template")


def _read_numbering(fields: Fields) -> Numbering:
    written = fields.text("numbering", Numbering.ISO3950.value)
    known = [numbering.value for numbering in Numbering]
    if written not in known:
        raise InputError(
            "numbering",
            f'no numbering "{written}". Write one of {", ".join(known)}.' + did_you_mean(written, known),
        )
    return Numbering(written)


def read_dentition(fields: Fields) -> Dentition:
    """The dentition from ``dentition_kind``, ``dentition``, ``roots`` and ``closed_spaces`` of an object."""
    states: dict[Tooth, ToothState] = {}
    for path, tooth, state in fields.entries("dentition"):
        states[check_tooth(tooth, path)] = _read_state(state, path)
    roots: dict[Tooth, tuple[str, ...]] = {}
    for path, tooth, codes in fields.entries("roots"):
        if not isinstance(codes, list):
            raise InputError(path, f'this must be a list of roots, like ["B", "P"]; got {kind_name(codes)}')
        roots[check_tooth(tooth, path)] = tuple(text_at(code, path) for code in codes)
    values: dict[str, Any] = {
        "kind": fields.text("dentition_kind", "permanent"),
        "states": states,
        "roots": roots,
        "closed_spaces": tuple(_read_pair(pair, path) for path, pair in fields.items("closed_spaces")),
    }
    return built_under(fields.path, lambda: Dentition(**values))


def _read_state(value: object, path: str) -> ToothState:
    known = [state.value for state in ToothState]
    if value not in known:
        raise InputError(
            path, f'no state "{value}". Write one of {", ".join(known)}.' + did_you_mean(value, known)
        )
    return ToothState(value)


def _read_pair(value: object, path: str) -> tuple[Tooth, Tooth]:
    parts = value.split("-") if isinstance(value, str) else []
    if len(parts) != 2:
        raise InputError(path, f'{value!r} is not a pair of teeth. Write it like "15-13"')
    return check_tooth(parts[0], path), check_tooth(parts[1], path)


def _read_exemption(data: object, path: str) -> Exemption:
    fields = Fields(data, path, ("target", "reason"))
    return Exemption(target=parse_target(fields.raw("target"), fields.at("target")), reason=fields.text("reason"))


def _read_policy(fields: Fields) -> Policy:
    if not fields.has("policy"):
        return Policy()
    policy = Fields(fields.raw("policy"), "policy", ("posterior_contacts",))
    return Policy(posterior_contacts=policy.text("posterior_contacts", "any"))  # type: ignore[arg-type]


def _read_exposure(data: object, path: str) -> Exposure:
    fields = Fields(data, path, EXPOSURE_KEYS)
    fields.raw("slot")
    return Exposure(
        id=fields.text("id"),
        slot=fields.text_or_none("slot"),
        reviewed=fields.flag("reviewed", False),
        shortfalls=tuple(_read_shortfall(member, where) for where, member in fields.items("shortfalls")),
        also_shows=tuple(parse_target(text, where) for where, text in fields.items("also_shows")),
        retake_of=fields.text_or_none("retake_of"),
    )


def _read_shortfall(data: object, path: str) -> Shortfall:
    fields = Fields(data, path, ("code", "targets"))
    code = fields.text("code")
    known = [each.value for each in ShortfallCode]
    if code not in known:
        raise InputError(
            fields.at("code"),
            f'no shortfall "{code}". Write one of {", ".join(known)}.' + did_you_mean(code, known),
        )
    named: tuple[Target, ...] | None = None
    if fields.has("targets"):
        named = tuple(parse_target(text, where) for where, text in fields.items("targets"))
    return Shortfall(code=ShortfallCode(code), targets=named)


def write_series(series: Series, *, template: str | None = None) -> dict[str, Any]:
    """The JSON object that `read_series` reads back to an equal series.

    Parameters
    ----------
    template : id to write where the template is a built-in one; else the whole template is written
    """
    return {
        "format": SERIES_FORMAT,
        "template": template if template is not None else write_template(series.template),
        "numbering": series.numbering.value,
        **write_dentition(series.dentition),
        "exempt": [{"target": each.target, "reason": each.reason} for each in series.exempt],
        "policy": {"posterior_contacts": series.policy.posterior_contacts},
        "exposures": [_write_exposure(exposure) for exposure in series.exposures],
    }


def write_dentition(dentition: Dentition) -> dict[str, Any]:
    """The four keys that `read_dentition` reads."""
    return {
        "dentition_kind": dentition.kind,
        "dentition": {tooth: state.value for tooth, state in dentition.states.items()},
        "roots": {tooth: list(codes) for tooth, codes in dentition.roots.items()},
        "closed_spaces": [f"{first}-{second}" for first, second in dentition.closed_spaces],
    }


def _write_exposure(exposure: Exposure) -> dict[str, Any]:
    return {
        "id": exposure.id,
        "slot": exposure.slot,
        "reviewed": exposure.reviewed,
        "shortfalls": [
            {"code": each.code.value} | ({} if each.targets is None else {"targets": list(each.targets)})
            for each in exposure.shortfalls
        ],
        "also_shows": list(exposure.also_shows),
        "retake_of": exposure.retake_of,
    }
