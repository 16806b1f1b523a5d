"""How what study.toml states now stands to what was sealed; the seal that the first taking in sets by itself."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Final

from evenhand.book.book import Book
from evenhand.measures.catalogue import CATALOGUE, FRAMED
from evenhand.steps.scenes import SCORES
from evenhand.study.model import Seal, Sealing, Study
from evenhand.study.seal import changes, protocol_text, seal_of

#: Who seals a protocol when the first logs are taken in.
ITSELF: Final = "evenhand"


def seal_first(book: Book, study: Study, at_hand: int) -> Seal | None:
    """Seal the protocol before the first runs come in, unless it is sealed or the study is exploratory. at_hand : logs that are
    being taken in.
    """
    if study.exploratory or book.seals():
        return None
    text = protocol_of(study)
    return book.seal(text, seal_of(text), ITSELF, at_hand=at_hand)


def sealing(book: Book, study: Study) -> Sealing:
    """How the study's protocol stands to its seals."""
    seals = book.seals()
    texts = [seal.text for seal in seals]
    return Sealing(
        exploratory=study.exploratory,
        runs=len(book.runs()),
        seals=seals,
        amended=((), *(changes(before, after, study) for before, after in pairwise(texts))) if seals else (),
        changes=changes(texts[-1], protocol_of(study), study) if seals else (),
    )


def protocol_of(study: Study) -> str:
    """The text to be sealed, with the margin of every measure that frames or scores give, also where study.toml leaves it at the
    usual one; of results that nobody foresaw only where it states one.
    """
    foreseen = {*FRAMED, *(SCORES[title.score] for title in study.titles if title.score), *study.margins}
    margins = {key: study.margins.get(key, measure.margin) for key, measure in CATALOGUE.items() if key in foreseen}
    return protocol_text(replace(study, margins=margins))
