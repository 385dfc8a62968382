"""Numbers for texts that come again and again (a probe, a unit), distinguished by their bytes; each is parsed once."""

from collections.abc import Callable

import numpy as np

from monitor.recordings.cells import LONGEST_TEXT, LOW_BYTES, Cells, Ints, Words

_REMEMBERED = 65_536
_WORDS = LONGEST_TEXT // 8
_MIX = np.array(
    [pow(0x9E3779B97F4A7C15, n, 1 << 64) for n in range(_WORDS)], dtype=np.uint64
)  # odd, so that the multiplication maps different words to different keys


class Texts:
    """Gives each text of a column its parser's number, asking the parser once for each text."""

    def __init__(self, parse: Callable[[str], int]) -> None:
        """Start empty; texts that the parser refuses are not remembered."""
        self._parse = parse
        self._known = dict[str, int]()
        self._forget()

    def _forget(self) -> None:
        self._known.clear()
        self._keys: Words = np.zeros(0, np.uint64)  # rising; one for each text
        self._words: Words = np.zeros((0, _WORDS), np.uint64)
        self._lengths: Ints = np.zeros(0, np.int64)
        self._numbers: Ints = np.zeros(0, np.int64)

    def numbers(self, cells: Cells) -> Ints:
        """Return the number of each cell.

        Raises:
            ValueError: From the parser.
        """
        length = cells.length
        longest = int(length.max()) if len(length) else 0
        if longest > LONGEST_TEXT:
            return self._one_by_one(cells)
        count = max(1, -(-longest // 8))
        words = [cells.words(8 * i) & LOW_BYTES[np.clip(length - 8 * i, 0, 8)] for i in range(count)]
        keys = words[0]
        for word, mix in zip(words[1:], _MIX[1:], strict=False):
            keys = keys ^ (word * mix)
        place = self._places(keys)
        if place is None:
            new = np.unique(keys, return_index=True)[1]
            self._learn(cells, words, keys, new[~np.isin(keys[new], self._keys)])
            place = self._places(keys)
            assert place is not None
        fits = self._lengths[place] == length
        for i, word in enumerate(words):
            fits &= self._words[place, i] == word
        return self._numbers[place] if fits.all() else self._one_by_one(cells)

    def _places(self, keys: Words) -> Ints | None:
        """Return the index of each key among the known ones, or None if any is unknown."""
        if not len(self._keys):
            return None
        place = np.minimum(self._keys.searchsorted(keys), len(self._keys) - 1)
        return place if (self._keys[place] == keys).all() else None

    def _learn(self, cells: Cells, words: list[Words], keys: Words, rows: Ints) -> None:
        if len(self._keys) + len(rows) > _REMEMBERED:
            self._forget()
            rows = np.unique(keys, return_index=True)[1]
        fresh = np.zeros((len(rows), self._words.shape[1]), np.uint64)
        for i, word in enumerate(words):
            fresh[:, i] = word[rows]
        numbers = [self._number_of(cells.text(row)) for row in rows.tolist()]
        all_keys = np.concatenate((self._keys, keys[rows]))
        order = np.argsort(all_keys)
        self._keys = all_keys[order]
        self._words = np.concatenate((self._words, fresh))[order]
        self._lengths = np.concatenate((self._lengths, cells.length[rows]))[order]
        self._numbers = np.concatenate((self._numbers, np.array(numbers, dtype=np.int64)))[order]

    def _number_of(self, text: str) -> int:
        known = self._known.get(text)
        if known is None:
            known = self._known[text] = self._parse(text)
        return known

    def _one_by_one(self, cells: Cells) -> Ints:
        """Return the numbers without the table of keys: for texts too long for it, or two that share a key."""
        if len(self._known) > _REMEMBERED:
            self._forget()
        texts = (cells.text(row) for row in range(len(cells.length)))
        return np.fromiter(map(self._number_of, texts), np.int64, len(cells.length))
