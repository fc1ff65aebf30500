"""What our check of addresses lets through is of our own site for a real browser too."""

from __future__ import annotations

from playwright.sync_api import Browser

from app.web.pages.going import own_address
from tests.web.test_redirects import NASTY, PIECES

READ = """texts => texts.map(text => {
  try { return new URL(text, "http://fullcount.test/login").origin } catch { return "none" }
})"""


def test_chromium_reads_every_address_that_is_kept_as_ours(chromium: Browser) -> None:
    tried = [
        *NASTY,
        *(f"/{one}{two}{three}elsewhere.example" for one in PIECES for two in PIECES for three in PIECES),
    ]
    kept = sorted({own_address(each) for each in tried})
    page = chromium.new_page()
    origins = page.evaluate(READ, kept)
    careless = page.evaluate(READ, tried)
    page.close()

    assert {
        text: origin for text, origin in zip(kept, origins, strict=True) if origin != "http://fullcount.test"
    } == {}
    assert len(kept) > 1000
    # The question is a real one: unchecked, many of them lead elsewhere.
    assert careless.count("http://elsewhere.example") > 20
