"""Walks through the pages as far as their links lead."""

from __future__ import annotations

import html
import re
from collections import Counter, deque
from collections.abc import Callable, Iterator
from urllib.parse import urldefrag, urljoin, urlsplit

from tests.web.client import ORIGIN, Page, PageClient

OF_A_KIND = 2
"""Pages opened that differ only in what they name."""


def kind_of(address: str) -> str:
    """The address without what it names, so that two patients' pages are of one kind."""
    path = urlsplit(address).path
    return re.sub(r"/([0-9a-f]{16,64}|[A-Z]{2}-[a-z]+|\d+|[a-z]+-[a-z0-9-]*\d[a-z0-9-]*)(?=/|$|\.)", "/…", path)


def links_of(page: Page) -> list[str]:
    """Where the page's links lead, within the program."""
    found = []
    for link in re.findall(r'<a\b[^>]*? href="([^"]*)"', page.text):
        whole = urldefrag(urljoin(ORIGIN + page.path, html.unescape(link))).url
        if whole.startswith(ORIGIN + "/"):
            found.append(whole.removeprefix(ORIGIN))
    return found


def crawl(client: PageClient, *starts: str, each: Callable[[str], bool] = lambda _: True) -> Iterator[Page]:
    """Every page that can be reached from the starts, two of each kind.

    Parameters
    ----------
    each : whether an address is to be opened
    """
    waiting, seen, kinds = deque(starts or ("/",)), set(starts), Counter[str]()
    while waiting:
        address = waiting.popleft()
        kinds[kind_of(address)] += 1
        if kinds[kind_of(address)] > OF_A_KIND or not each(address):
            continue
        page = client.get(address)
        yield page
        if page.is_html:
            for link in links_of(page):
                if link not in seen:
                    seen.add(link)
                    waiting.append(link)
