"""How well two readers agree beyond chance: Cohen's kappa."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from app.core.errors import InputError, did_you_mean
from app.core.quality.rates import Interval, two_sided


@dataclass(frozen=True, kw_only=True)
class Kappa:
    """Agreement of two readers on the same images.

    Parameters
    ----------
    n : images that both read
    observed : share on which they agree, 0 to 1
    expected : share on which they would agree by chance, given how often each uses each grade
    value : kappa, 1 for perfect agreement, 0 for chance; None where both used one and the same grade throughout,
        when chance explains everything and nothing can be said
    interval : large-sample interval of kappa, cut at -1 and 1; None where ``value`` is
    """

    n: int
    observed: float
    expected: float
    value: float | None
    interval: Interval | None


def cross_table(pairs: Sequence[tuple[str, str]], categories: Sequence[str]) -> tuple[tuple[int, ...], ...]:
    """How often the first reader said the row's grade and the second the column's.

    Raises
    ------
    InputError
        At ``pairs[i]``: a grade that is not one of the categories.
    """
    place = {category: number for number, category in enumerate(categories)}
    counts = [[0] * len(categories) for _ in categories]
    for index, pair in enumerate(pairs):
        for grade in pair:
            if grade not in place:
                raise InputError(
                    f"pairs[{index}]",
                    f'no grade "{grade}". Use {", ".join(categories)}.' + did_you_mean(grade, categories),
                )
        counts[place[pair[0]]][place[pair[1]]] += 1
    return tuple(tuple(row) for row in counts)


def cohens_kappa(table: Sequence[Sequence[int]], confidence: float = 0.95) -> Kappa:
    """Agreement beyond chance from a square table of counts.

    Parameters
    ----------
    table : shape (grades, grades); rows are the first reader's grades, columns the second's

    Raises
    ------
    InputError
        The table is not square, holds a negative count, or no image at all.

    Notes
    -----
    The interval uses the large-sample standard error; below some 30 images it is rough.

    References
    ----------
    Cohen J, Educ Psychol Meas 1960;20:37-46; Fleiss JL, Cohen J, Everitt BS, Psychol Bull 1969;72:323-327
    (citations from memory; agrees with statsmodels).

    Examples
    --------
    >>> round(cohens_kappa([[20, 5], [10, 15]]).value, 6)
    0.4
    """
    size = len(table)
    if size < 2 or any(len(row) != size for row in table):
        raise InputError("table", "this is not square. Give as many columns as rows, at least two")
    if any(count < 0 for row in table for count in row):
        raise InputError("table", "a count is negative. Count from 0 up")
    n = sum(sum(row) for row in table)
    if n == 0:
        raise InputError("table", "no image was read by both. Have the second reader grade some first")
    z = two_sided(confidence)
    share = [[count / n for count in row] for row in table]
    first = [sum(row) for row in share]
    second = [sum(row[column] for row in share) for column in range(size)]
    observed = sum(share[i][i] for i in range(size))
    expected = sum(first[i] * second[i] for i in range(size))
    one_grade = any(table[i][i] == n for i in range(size))
    if one_grade:
        return Kappa(n=n, observed=1.0, expected=1.0, value=None, interval=None)
    value = (observed - expected) / (1 - expected)
    spread = sqrt(_variance(share, first, second, observed, expected) / n)
    interval = Interval(max(-1.0, value - z * spread), min(1.0, value + z * spread))
    return Kappa(n=n, observed=observed, expected=expected, value=value, interval=interval)


def _variance(
    share: list[list[float]], first: list[float], second: list[float], observed: float, expected: float
) -> float:
    """n times the variance of kappa, after Fleiss, Cohen and Everitt (1969)."""
    size = range(len(share))
    kept = 1 - expected
    lost = 1 - observed
    agreeing = sum(share[i][i] * (kept - (first[i] + second[i]) * lost) ** 2 for i in size)
    differing = lost**2 * sum(share[i][j] * (second[i] + first[j]) ** 2 for i in size for j in size if i != j)
    centre = (observed * expected - 2 * expected + observed) ** 2
    return max(0.0, agreeing + differing - centre) / kept**4
