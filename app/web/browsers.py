"""Which browser it was, in plain words, as far as it says so itself."""

from __future__ import annotations

# The first that stands in the header wins: most browsers name others beside themselves.
_BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("Firefox/", "Firefox"),
    ("FxiOS/", "Firefox"),
    ("Chromium/", "Chromium"),
    ("CriOS/", "Chrome"),
    ("HeadlessChrome/", "Chromium"),
    ("Chrome/", "Chrome"),
    ("Safari/", "Safari"),
)
_SYSTEMS = (
    ("Windows", "Windows"),
    ("Android", "Android"),
    ("iPhone", "a telephone"),
    ("iPad", "a tablet"),
    ("Macintosh", "macOS"),
    ("CrOS", "ChromeOS"),
    ("Linux", "Linux"),
)


def browser_words(user_agent: str) -> str:
    """What a person recognises their browser by.

    Examples
    --------
    >>> browser_words("Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0")
    'Firefox on Linux'
    >>> browser_words("<script>")
    'a program that does not say what it is'
    """
    browser = next((words for sign, words in _BROWSERS if sign in user_agent), "")
    system = next((words for sign, words in _SYSTEMS if sign in user_agent), "")
    if browser and system:
        return f"{browser} on {system}"
    return browser or (f"a browser on {system}" if system else "a program that does not say what it is")
