"""A browser without a screen: asks the application in process, and checks every page that it is given.

Whatever a test is about, each HTML page it opens must be whole: strict HTML, one h1, a title that begins with it,
no id twice, every form with an action and (where it posts) our token, nothing inline that the content security
policy would refuse, every label's field and every description in the page, no link to nowhere.
"""

from __future__ import annotations

import html
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cached_property
from typing import Any

import html5lib
import httpx
from anyio.from_thread import BlockingPortal, start_blocking_portal
from bs4 import BeautifulSoup, Tag
from fastapi import FastAPI

ORIGIN = "http://fullcount.test"


class Page:
    """An answer; `soup` where it is HTML."""

    def __init__(self, response: httpx.Response) -> None:
        self.response = response
        self.status = response.status_code
        self.text = response.text if "text" in response.headers.get("content-type", "") else ""
        self.is_html = response.headers.get("content-type", "").startswith("text/html")

    @cached_property
    def soup(self) -> BeautifulSoup:
        """The page as a browser would read it; read when it is first asked for."""
        return BeautifulSoup(self.text if self.is_html else "", "html5lib")

    @property
    def path(self) -> str:
        """Where the page stands, with its query."""
        return self.response.url.raw_path.decode()

    @property
    def h1(self) -> str:
        """The text of its heading."""
        return words(self.soup.h1) if self.soup.h1 is not None else ""

    def find(self, selector: str) -> Tag:
        """The first element; fails with the page's heading where there is none."""
        found = self.soup.select_one(selector)
        assert found is not None, f'no "{selector}" on the page "{self.h1}"'
        return found

    def all(self, selector: str) -> list[Tag]:
        """Every element of a selector."""
        return list(self.soup.select(selector))

    def errors(self) -> list[str]:
        """What the error summary says."""
        return [words(each) for each in self.all(".mend li")]

    def error_at(self, field: str) -> str:
        """What stands at a field."""
        return words(self.find(f"#e-{field}")).removeprefix("Error: ")

    def json(self) -> Any:
        """The body as JSON."""
        return self.response.json()


def words(element: Tag | None) -> str:
    """The text of an element on one line."""
    return " ".join(element.get_text(" ").split()) if element is not None else ""


class PageClient:
    """One person's browser: keeps cookies, sends what browsers send, follows redirects.

    Parameters
    ----------
    strict : whether every page is checked; only where the same pages are opened many times it is not
    """

    def __init__(self, portal: BlockingPortal, application: FastAPI, *, strict: bool = True) -> None:
        self._strict = strict
        self._portal = portal
        self.application = application
        self._client = httpx.AsyncClient(
            transport=httpx.ASGITransport(app=application, raise_app_exceptions=False), base_url=ORIGIN
        )

    def request(
        self,
        method: str,
        address: str,
        *,
        follow: bool = True,
        headers: Mapping[str, str] | None = None,
        **more: Any,
    ) -> Page:
        """Ask, and check the page that comes."""
        sent = {"Accept": "text/html", "Sec-Fetch-Site": "same-origin"} | dict(headers or {})
        sent = {name: value for name, value in sent.items() if value}

        async def ask() -> httpx.Response:
            return await self._client.request(method, address, headers=sent, follow_redirects=follow, **more)

        page = Page(self._portal.call(ask))
        if self._strict and page.is_html and page.text.lstrip().lower().startswith("<!doctype"):
            check(page)
        return page

    def get(self, address: str, **more: Any) -> Page:
        """Open a page."""
        return self.request("GET", address, **more)

    def post(self, address: str, data: Mapping[str, Any] | None = None, **more: Any) -> Page:
        """Send a form with the token of this log-in."""
        return self.request("POST", address, data={"csrf_token": self.token(), **(data or {})}, **more)

    def submit(self, page: Page, action: str, changes: Mapping[str, Any] | None = None, **more: Any) -> Page:
        """Send a form of a page as a browser would: what stands in its fields, with some changed.

        Parameters
        ----------
        action : address of the form to send
        """
        form = page.find(f'form[action="{html.unescape(action)}"]')
        values = form_values(form)
        for name, value in (changes or {}).items():
            assert name in values or form.select(f'[name="{name}"]'), f'no field "{name}" in the form {action}'
            values[name] = value
        return self.request("POST", action, data=values, **more)

    def submit_form(self, form: Tag) -> Page:
        """Send a form of a page as it stands."""
        return self.request("POST", str(form["action"]), data=form_values(form))

    def token(self) -> str:
        """The token that the pages of this log-in carry."""
        page = self.get("/cautions")
        return str(page.find('meta[name="csrf-token"]')["content"])

    def log_in(self, login: str, password: str) -> Page:
        """Through the form."""
        return self.submit(self.get("/login"), "/login", {"login": login, "password": password})

    def close(self) -> None:
        """Give back what the client holds."""
        self._portal.call(self._client.aclose)


def form_values(form: Tag) -> dict[str, Any]:
    """What a browser sends of a form that nobody has touched."""
    values: dict[str, Any] = {}

    def put(name: str, value: str) -> None:
        if name in values:
            before = values[name] if isinstance(values[name], list) else [values[name]]
            values[name] = [*before, value]
        else:
            values[name] = value

    for field in form.select("input[name], select[name], textarea[name]"):
        name = str(field["name"])
        if field.name == "select":
            option = field.select_one("option[selected]") or field.select_one("option")
            put(name, str(option["value"]) if option is not None else "")
        elif field.name == "textarea":
            put(name, field.get_text().removeprefix("\n"))
        elif field.get("type") in ("checkbox", "radio"):
            if field.has_attr("checked"):
                put(name, str(field.get("value", "on")))
        elif field.get("type") not in ("submit", "button", "file"):
            put(name, str(field.get("value", "")))
    return values


def check(page: Page) -> None:
    """Everything that a page of ours must be; the message says what to write instead."""
    parser = html5lib.HTMLParser()
    parser.parse(page.text)
    faults = [f"{code} at {place}" for place, code, _ in parser.errors]
    assert not faults, f'"{page.path}" is not strict HTML: {faults[:5]}'
    soup = page.soup
    assert len(soup.find_all("h1")) == 1, f'"{page.path}" must have one h1, has {len(soup.find_all("h1"))}'
    title = words(soup.title).removeprefix("Error: ")
    assert title.startswith(page.h1), f'the title "{title}" must begin with the heading "{page.h1}"'
    _check_ids(page, soup)
    _check_forms(page, soup)
    _check_inline(page, soup)


def _check_ids(page: Page, soup: BeautifulSoup) -> None:
    ids = [str(each["id"]) for each in soup.select("[id]")]
    twins = {each for each in ids if ids.count(each) > 1}
    assert not twins, f'"{page.path}" has ids twice: {sorted(twins)}'
    for label in soup.select("label[for]"):
        assert label["for"] in ids, f'"{page.path}": the label "{words(label)}" is for "{label["for"]}", not there'
    for attribute in ("aria-describedby", "aria-labelledby", "aria-controls"):
        for each in soup.select(f"[{attribute}]"):
            missing = [name for name in str(each[attribute]).split() if name not in ids]
            assert not missing, f'"{page.path}": {attribute} names {missing}, not there'
    for link in soup.select('a[href^="#"]'):
        place = str(link["href"])[1:]
        assert place in ids, f'"{page.path}": the link "{words(link)}" leads to #{place}, not there'


def _check_forms(page: Page, soup: BeautifulSoup) -> None:
    for form in soup.find_all("form"):
        assert form.get("action"), f'"{page.path}" has a form without an action'
        method = str(form.get("method", "")).lower()
        assert method in ("get", "post"), f'"{page.path}": write method="post" or method="get" on {form["action"]}'
        token = form.select('input[name="csrf_token"]')
        if method == "post":
            assert token, f'"{page.path}": the form {form["action"]} has no token. Open it with form_start'
            assert token[0].get("value"), f'"{page.path}": the form {form["action"]} has an empty token'
        else:
            assert not token, f'"{page.path}": the form {form["action"]} would put the token into the address'
    for button in soup.find_all("button"):
        named = words(button) or button.get("aria-label")
        assert named, f'"{page.path}" has a button without words'


def _check_inline(page: Page, soup: BeautifulSoup) -> None:
    assert not soup.find_all("style"), f'"{page.path}": put the style into a file under static/'
    styled = [str(each)[:80] for each in soup.select("[style]")]
    assert not styled, f'"{page.path}" has style attributes: {styled[:3]}'
    for script in soup.find_all("script"):
        assert script.get("src"), f'"{page.path}": put the script into a module under static/modules/'
    for element in soup.find_all(True):
        handlers = [name for name in element.attrs if name.startswith("on")]
        assert not handlers, f'"{page.path}" has handlers in its HTML: {handlers}'
        for name in ("src", "href", "action"):
            address = str(element.get(name, ""))
            foreign = address.split(":", 1)[0] in ("http", "https", "javascript", "data") or address.startswith(
                "//"
            )
            assert not foreign, f'"{page.path}" asks another place: {address}'


@contextmanager
def running(applications: Sequence[FastAPI]) -> Iterator[BlockingPortal]:
    """An event loop in which the applications have started."""
    with start_blocking_portal() as portal:
        opened = [portal.wrap_async_context_manager(each.router.lifespan_context(each)) for each in applications]
        for each in opened:
            each.__enter__()
        try:
            yield portal
        finally:
            for each in reversed(opened):
                each.__exit__(None, None, None)
