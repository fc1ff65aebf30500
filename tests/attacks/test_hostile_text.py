"""HTML, template code and line ends in every text field of every form: they are text, wherever they come back."""

from __future__ import annotations

import html
import re
from dataclasses import dataclass, field
from typing import Any

import httpx
import pytest
from bs4 import Tag

from tests.attacks.conftest import ClientOf
from tests.attacks.crawling import crawl
from tests.web.client import ORIGIN, Page, PageClient, form_values

ELEMENT = "strangeelement"
SUM, ITS_VALUE = "7919*10473", "82935687"
HOSTILE = f"""'"><{ELEMENT} onx=1>{{{{{SUM}}}}}${{{SUM}}}"""
"""Breaks out of an attribute, opens an element of its own, and is reckoned where it is taken for a template."""

TAKEN_FOR_HTML = re.compile(rf"""<{ELEMENT}|['"]["'](?:>|&gt;)+(?:<|&lt;){ELEMENT}""", re.IGNORECASE)
"""An element of the attacker's, or quotation marks that could end an attribute."""

ENDS = ("/logout", "/login", "/switch", "/me", "/practice/staff", "/first-start")
"""Forms that would end the log-in or change it; their fields are tried in tests of their own."""

TEXT_TYPES = ("text", "search", "tel", "email", "url", None)


@dataclass
class Tried:
    """What the attack came by."""

    forms: set[str] = field(default_factory=set)
    fields: int = 0
    stored: int = 0
    faults: list[str] = field(default_factory=list)

    def look(self, page: Page, said: str) -> None:
        """Note what hostile text has done to a page."""
        if page.status >= 500:
            self.faults.append(f"{said}: status {page.status}")
        if page.is_html and TAKEN_FOR_HTML.search(page.text):
            self.faults.append(f"{said}: HTML was taken for HTML")
        if ITS_VALUE in page.text:
            self.faults.append(f"{said}: template code was run")


def text_fields(form: Tag) -> list[str]:
    """Names of the fields of a form in which text is typed."""
    named = form.select("input[name], textarea[name]")
    return [
        str(each["name"])
        for each in named
        if each["name"] != "csrf_token" and (each.name == "textarea" or each.get("type") in TEXT_TYPES)
    ]


def filled(form: Tag, changes: dict[str, Any]) -> dict[str, Any]:
    """What a browser would send, with one choice made where there is one to make."""
    values = form_values(form)
    for radio in form.select('input[type="radio"][name]'):
        values.setdefault(str(radio["name"]), str(radio.get("value", "on")))
    return values | changes


def send_hostile_forms(client: PageClient, page: Page, tried: Tried) -> None:
    """Each form of the page with hostile text in every field at once; where that is refused, in each alone."""
    for form in page.all('form[method="post"]'):
        action = str(form["action"])
        names = text_fields(form)
        shape = f"{action.split('?')[0]} {sorted(names)}"
        if shape in tried.forms or not names or action.startswith(ENDS):
            continue
        tried.forms.add(shape)
        tried.fields += len(names)
        for changes in (dict.fromkeys(names, HOSTILE), *({name: HOSTILE} for name in names)):
            answer = client.request("POST", action, data=filled(form, changes))
            tried.look(answer, f"{action} {sorted(changes)}")
            if answer.status == 200:
                tried.stored += 1
                if len(changes) > 1:
                    break


def test_text_stays_text_in_every_form_and_on_every_page(browser_of: ClientOf) -> None:
    client = browser_of("wilna")
    tried = Tried()
    for page in list(crawl(client)):
        if page.is_html:
            send_hostile_forms(client, page, tried)
    came_back = 0
    for page in crawl(client):
        tried.look(page, page.path)
        came_back += SUM in page.text

    assert tried.faults == []
    # The attack itself must have gone home: forms were found, much was stored, and it came back on pages.
    assert len(tried.forms) >= 30
    assert tried.stored >= 20
    assert came_back >= 10


READ_FROM_ADDRESSES = (
    "q note sort from to by operator room next month week day kind page then back when risk".split()
)


def test_text_in_an_address_stays_text(browser_of: ClientOf) -> None:
    """Pages that read their address show it, or not; never as HTML."""
    client, tried = browser_of("wilna"), Tried()
    for page in list(crawl(client, "/", each=lambda address: "?" not in address)):
        for asked in (dict.fromkeys(READ_FROM_ADDRESSES, HOSTILE), dict.fromkeys(READ_FROM_ADDRESSES, "9" * 40)):
            answer = client.request("GET", page.path.split("?")[0], params=asked)
            tried.look(answer, f"{page.path} {sorted(asked)[:2]}")

    assert tried.faults == []


@pytest.mark.parametrize(
    "written", [f"<p>{HOSTILE}</p>", f'<input value="{HOSTILE}">', f"<p>{html.escape(HOSTILE, quote=False)}</p>"]
)
def test_the_attack_sees_where_text_is_not_kept_text(written: str) -> None:
    tried = Tried()
    answer = httpx.Response(
        200, text=written, headers={"content-type": "text/html"}, request=httpx.Request("GET", ORIGIN)
    )
    tried.look(Page(answer), "written carelessly")

    assert tried.faults == ["written carelessly: HTML was taken for HTML"]


def test_text_that_is_kept_text_is_no_fault() -> None:
    tried = Tried()
    answer = httpx.Response(
        200,
        text=f"<p>{html.escape(HOSTILE)}</p>",
        headers={"content-type": "text/html"},
        request=httpx.Request("GET", ORIGIN),
    )
    tried.look(Page(answer), "written with care")

    assert tried.faults == []
