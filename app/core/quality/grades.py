"""The grade that a review gives an image, in a scheme of two grades or three."""

from __future__ import annotations

from collections.abc import Sequence


def grade_of_review(grades: Sequence[str], *, faulty: bool, lost: bool) -> str:
    """The grade of an image as its review reads.

    Parameters
    ----------
    grades : codes of the scheme, the best first, at least two
    faulty : whether the review names a shortfall
    lost : whether a shortfall took away something that the image was taken to show

    Notes
    -----
    Worst where something is lost; else best, but for a fault that took nothing, which a scheme of three grades
    puts into its middle. The grade says nothing about a retake: what is lost may stand on another image.

    Examples
    --------
    >>> grade_of_review("AN", faulty=True, lost=False), grade_of_review("123", faulty=True, lost=False)
    ('A', '2')
    >>> grade_of_review("123", faulty=True, lost=True)
    '3'
    """
    if lost:
        return grades[-1]
    return grades[1] if faulty and len(grades) > 2 else grades[0]
