"""The run rules: patterns on a control chart that chance alone rarely makes.

The Western Electric rules (Statistical Quality Control Handbook, 1956), as the NIST/SEMATECH e-Handbook of
Statistical Methods, section 6.3.2, prints them (from memory). All four together give a false alarm about once in
92 points (Champ and Woodall, Technometrics 1987;29:393-399, from memory): a signal asks for a look, not for blame.
"""

from __future__ import annotations

from collections.abc import Sequence

RULES: dict[str, str] = {
    "beyond_limits": "one point beyond three standard deviations",
    "two_of_three": "two of three points in a row beyond two standard deviations on the same side",
    "four_of_five": "four of five points in a row beyond one standard deviation on the same side",
    "eight_on_one_side": "eight points in a row on the same side of the centre line",
}
"""What each signal says."""

_RUNS = (("beyond_limits", 1, 1, 3.0), ("two_of_three", 2, 3, 2.0), ("four_of_five", 4, 5, 1.0))
_ONE_SIDE = 8


def run_signals(scores: Sequence[float | None]) -> tuple[tuple[str, ...], ...]:
    """Which rules each point breaks, it being the last of the run.

    Parameters
    ----------
    scores : distance of each point from the centre line in its own standard deviations; None for a period in which
        nothing was counted, which neither continues nor ends a run

    Examples
    --------
    >>> run_signals([0.1, 2.2, -0.3, 2.4, 3.1])
    ((), (), (), ('two_of_three',), ('beyond_limits', 'two_of_three'))
    """
    found: list[tuple[str, ...]] = []
    past: list[float] = []
    for score in scores:
        if score is None:
            found.append(())
            continue
        past.append(score)
        broken = [code for code, needed, of, width in _RUNS if _breaks(past, needed, of, width)]
        if len(past) >= _ONE_SIDE and _same_side(past[-_ONE_SIDE:]):
            broken.append("eight_on_one_side")
        found.append(tuple(broken))
    return tuple(found)


def _breaks(past: Sequence[float], needed: int, of: int, width: float) -> bool:
    """Whether enough of the last points lie beyond the width on the last point's side, the last one too."""
    last = past[-1]
    side = 1.0 if last > 0 else -1.0
    if side * last <= width:
        return False
    return sum(side * each > width for each in past[-of:]) >= needed


def _same_side(scores: Sequence[float]) -> bool:
    return all(each > 0 for each in scores) or all(each < 0 for each in scores)
