"""What can be measured of the look: contrast of the colours used, and parts that all stand on one page."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from app.web.notes import NOTES, go_to
from tests.web.client import PageClient

ROOT = Path(__file__).resolve().parents[2]
COLOURS = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", (ROOT / "static/base.css").read_text(encoding="utf-8")))

PAIRS = [
    ("ink", "paper"),
    ("ink", "sheet"),
    ("ink-soft", "paper"),
    ("ink-soft", "sheet"),
    ("ink-soft", "kelp-tint"),
    ("kelp", "paper"),
    ("kelp", "sheet"),
    ("kelp", "kelp-tint"),
    ("sheet", "kelp"),
    ("ember-deep", "ember-tint"),
    ("ember-deep", "sheet"),
    ("ember", "paper"),
    ("sheet", "ember"),
    ("saffron", "saffron-tint"),
    ("slate", "paper"),
    ("slate", "sheet"),
    ("slate", "slate-tint"),
    ("lightbox-ink", "lightbox"),
]


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    shares = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize(("above", "below"), PAIRS)
def test_text_stands_out_from_its_ground(above: str, below: str) -> None:
    """Contrast of at least 4.5 to 1 (WCAG 2.2, success criterion 1.4.3)."""
    light, dark = sorted((luminance(COLOURS[above]), luminance(COLOURS[below])), reverse=True)

    assert (light + 0.05) / (dark + 0.05) >= 4.5


def test_every_part_stands_on_the_page_of_parts(anybody: PageClient) -> None:
    page = anybody.get("/patterns")
    blocks = (
        "button",
        "field",
        "choice",
        "mend",
        "table",
        "badge",
        "notice",
        "verdict",
        "facts",
        "within",
        "steps",
    )

    missing = [block for block in blocks if not page.all(f".{block}")]

    assert missing == []


def test_every_file_that_a_page_names_is_served(client_of) -> None:
    client = client_of("wilna")
    pages = [client.get(address) for address in ("/", "/patterns", "/patients", "/practice", "/templates")]
    files = {str(each.get("href") or each.get("src")) for page in pages for each in page.all("link, script")}

    assert {client.get(file).status for file in files} == {200}


def test_every_module_named_in_a_template_is_there() -> None:
    named = {
        name
        for file in (ROOT / "templates").rglob("*.html")
        for names in re.findall(r'data-module(?:=|": )"([^"{]+)"', file.read_text(encoding="utf-8"))
        for name in names.split()
    }

    assert named
    assert [name for name in sorted(named) if not (ROOT / f"static/modules/{name}.js").is_file()] == []


def test_every_template_parses_and_imports_nothing_it_does_not_use(application) -> None:
    unused = []
    for file in sorted((ROOT / "templates").rglob("*.html")):
        text = file.read_text(encoding="utf-8")
        application.state.templates.parse(text)
        for names in re.findall(r'{% from "[^"]+" import ([^%]+?) %}', text):
            for name in names.split(","):
                if len(re.findall(rf"\b{re.escape(name.strip())}\b", text)) < 2:
                    unused.append(f"{file.relative_to(ROOT)}: {name.strip()}")

    assert unused == []


def test_a_note_that_is_not_in_the_table_cannot_be_sent() -> None:
    with pytest.raises(KeyError):
        go_to("/", "no-such-note")

    assert go_to("/a?b=c#d", "chart-kept").headers["location"] == "/a?b=c&note=chart-kept#d"
    assert all(sentence.endswith(".") for sentence in NOTES.values())


def test_a_note_of_somebody_else_s_making_says_nothing(anybody: PageClient) -> None:
    page = anybody.get("/login?note=<b>You+have+won</b>")

    assert "You have won" not in page.text
