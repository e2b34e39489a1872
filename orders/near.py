"""The name that was meant by one not written as it is known."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from django.utils.translation import gettext as _

ALIKE = 0.7  # share of letters in common from which a name may be meant; tried, no source
LEAST = 3  # letters that begin a word of a name


def near(text: str, known: Iterable[str]) -> str:
    """The likeliest of the known names, or the only one with a word that begins so; '' where none is near."""
    names = {name.casefold(): name for name in known}
    said = " ".join(text.casefold().split())
    alike = difflib.get_close_matches(said, names, n=1, cutoff=ALIKE)
    if not alike and len(said) >= LEAST:
        alike = [name for name in names if any(word.startswith(said) for word in name.split())]
    return names[alike[0]] if len(alike) == 1 else ""


def meant_words(text: str, known: Iterable[str]) -> str:
    """'Did you mean Tallis Red? ', to stand before the other ways to mend a name; '' where none is near."""
    name = near(text, known)
    return _("Did you mean %(name)s?") % {"name": name} + " " if name else ""
