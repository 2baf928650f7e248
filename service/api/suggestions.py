"""The nearest allowed word to one that is not allowed."""

import difflib
import re
from collections.abc import Iterable
from typing import Final

KEY_PATTERN: Final = r"^[a-z][a-z0-9_]*$"
"""The form of the keys of catalogues."""


def as_key(word: str) -> str | None:
    """Return a word as a key would be written, `calcium_nitrate` for `Calcium nitrate`."""
    key = re.sub(r"[^a-z0-9]+", "_", word[:80].lower()).strip("_")
    return key if re.fullmatch(KEY_PATTERN, key) else None


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
    # "feed_13_3_15" for "feed_13_3_15_ca_mg", "ec" for "ec_ms_per_cm": a beginning says more than
    # letters in common, and so does an end ("n_percent" for "total_n_percent").
    longer = [name for name in candidates if name.startswith(folded + "_")]
    if longer:
        return min(longer, key=len)
    ending = [name for name in candidates if name.endswith(("_" + folded, "." + folded))]
    if ending:
        ranked = sorted((not name.startswith("total_"), len(name), name) for name in ending)
        if len(ranked) > 1 and ranked[0][:2] == ranked[1][:2]:
            return None  # "tap" is as near to a hard as to a soft one: better the whole list.
        return ranked[0][2]
    # "RO" for "reverse_osmosis".
    initials = [
        name for name in candidates if folded == "".join(part[:1] for part in name.split("_"))
    ]
    if len(folded) > 1 and len(initials) == 1:
        return initials[0]
    close = difflib.get_close_matches(folded, candidates, n=1, cutoff=0.6)
    return close[0] if close else None
