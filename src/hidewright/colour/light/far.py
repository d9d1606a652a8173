"""How far two colours are apart, in words: one function for every page, paper and command.

That an eye just notices a difference of about ΔE00 1, for large patches side by side in good light, is common practice; the steps on either side of it are rules of thumb
of this tool: no source (docs/guide/words.md lists them for the shop).
"""

from hidewright.refusals import Refusal

STEPS: tuple[tuple[float, str, str], ...] = (
    (0.5, "an eye hardly sees it", "less than an eye sees"),
    (1.0, "close", "a touch"),
    (2.0, "seen side by side", "a clear step"),
)
"""ΔE00 up to which a difference is called so: what it is to an eye, and as an amount."""
NEAR_ENOUGH = (
    "A figure: " + ", ".join(f"{limit:g} – {far}" for limit, far, _ in STEPS) + "; above, it is plain to see."
)
"""What to write where somebody is asked how near is near enough."""
BEYOND = ("plain to see", "a plain difference")
"""What is above the last step."""


def how_far(delta_e: float) -> str:
    """What a colour difference (ΔE00, 0 or more) is to an eye: “an eye hardly sees it” up to 0.5, “close” up to 1, “seen side by side” up to 2, “plain to see” above.

    Common practice and rules of thumb, no source. Refuses what is no difference.

    >>> how_far(0.8)
    'close'
    """
    return _step(delta_e)[0]


def off_by(delta_e: float) -> str:
    """The same as an amount, for “it may be off by …”: “less than an eye sees”, “a touch”, “a clear step”, “a plain difference”. Steps, doubt and refusal as in `how_far`.

    >>> off_by(1.4)
    'a clear step'
    """
    return _step(delta_e)[1]


def with_figure(delta_e: float, digits: int = 1) -> str:
    """In words with the figure behind, for paper and the command, where nobody can tap: “close (ΔE00 0.8)”."""
    return f"{how_far(delta_e)} (ΔE00 {delta_e:.{digits}f})"


def off_with_figure(delta_e: float, digits: int = 1) -> str:
    """The amount with the figure behind: “a touch (ΔE00 0.8)”."""
    return f"{off_by(delta_e)} (ΔE00 {delta_e:.{digits}f})"


def _step(delta_e: float) -> tuple[str, str]:
    if not delta_e >= 0:
        raise Refusal(f"A colour difference of {delta_e:g} cannot be.", remedy="It is 0 or more.")
    return next(((far, off) for limit, far, off in STEPS if delta_e <= limit), BEYOND)
