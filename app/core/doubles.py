"""Whether two records may be of one person: a small rule of our own, explained where it is shown.

Two records are likely doubles where the birth dates are the same and the names are similar. Names are compared
without accents, case, and order of their words. They are similar where

- they are the same words, or one name holds every word of the other (a second name or half of a double name left
  out), or
- at most two letters are wrong, missing, added or exchanged with their neighbour, and at most a quarter of the
  shorter name.

The rule proposes; a person decides. Twins with similar names are proposed too. (Common practice, no source.)
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from itertools import combinations

MOST_LETTERS = 2
"""Letters that may differ."""


def name_words(name: str) -> tuple[str, ...]:
    """The words of a name without accents and case, in the order of the alphabet.

    Examples
    --------
    >>> name_words("Stoné-Merriweather, Ada")
    ('ada', 'merriweather', 'stone')
    """
    apart = unicodedata.normalize("NFKD", name)
    plain = "".join(letter for letter in apart if not unicodedata.combining(letter)).casefold()
    return tuple(sorted(re.findall(r"\w+", plain)))


def letters_apart(one: str, other: str, most: int = MOST_LETTERS) -> int:
    """How many letters are wrong, missing, added or exchanged with their neighbour.

    More than ``most`` are told as ``most + 1``.

    Examples
    --------
    >>> letters_apart("ilka brandt", "ilak brand"), letters_apart("ilka", "pell")
    (2, 3)
    """
    if abs(len(one) - len(other)) > most:
        return most + 1
    before: list[int] = []
    line = list(range(len(other) + 1))
    for row, letter in enumerate(one, 1):
        before, last, line = line, before, [row]
        for column, against in enumerate(other, 1):
            cost = min(before[column] + 1, line[-1] + 1, before[column - 1] + (letter != against))
            if row > 1 and column > 1 and letter == other[column - 2] and one[row - 2] == against:
                cost = min(cost, last[column - 2] + 1)
            line.append(cost)
    return min(line[-1], most + 1)


def why_similar(one: str, other: str) -> str:
    """Why two names may be one person's, in words; empty where they are not similar.

    Examples
    --------
    >>> why_similar("Ada Stone", "stone ADA"), why_similar("Ada Stone", "Ada Merriweather-Stone")
    ('same name', 'one name holds every word of the other')
    >>> why_similar("Ilka Brandt", "Ilka Brant"), why_similar("Bo Tarn", "Ed Marn")
    ('1 letter differs', '')
    """
    words, against = name_words(one), name_words(other)
    if not words or not against:
        return ""
    if words == against:
        return "same name"
    fewer, more = sorted((set(words), set(against)), key=len)
    if len(fewer) > 1 and fewer <= more:
        return "one name holds every word of the other"
    short = min(len("".join(words)), len("".join(against)))
    apart = letters_apart(" ".join(words), " ".join(against))
    if apart <= min(MOST_LETTERS, short // 4):
        return "1 letter differs" if apart == 1 else f"{apart} letters differ"
    return ""


def likely_pairs(born_alike: Iterable[Sequence[tuple[str, str]]]) -> list[tuple[str, str, str]]:
    """The pairs that may be one person.

    Parameters
    ----------
    born_alike : for each birth date the id and name of those who have it

    Returns
    -------
    list
        Of both ids and why.
    """
    found = []
    for people in born_alike:
        for (one, name), (other, other_name) in combinations(people, 2):
            why = why_similar(name, other_name)
            if why:
                found.append((one, other, why))
    return found
