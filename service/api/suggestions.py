"""The nearest allowed word to one that is not allowed."""

import difflib
from collections.abc import Iterable


def nearest(word: str, allowed: Iterable[str]) -> str | None:
    """
    Return the allowed word that was probably meant.

    Parameters
    ----------
    word : str
        What was sent.
    allowed : iterable of str
        What could have been sent.

    Returns
    -------
    str or None
        The nearest one; None when nothing is near.
    """
    candidates = sorted(set(allowed))
    folded = word.strip()[:128].lower().replace("-", "_").replace(" ", "_")
    if not folded:
        return None
    exact = [name for name in candidates if name.lower() == folded]
    if exact:
        return exact[0]
    close = difflib.get_close_matches(folded, candidates, n=1, cutoff=0.6)
    if close:
        return close[0]
    # "ec" for "ec_ms_per_cm": the unit suffix alone can outweigh the word itself.
    longer = [name for name in candidates if name.startswith(folded + "_")]
    return min(longer, key=len) if longer else None
