"""Sounds written in the International Phonetic Alphabet as the 39 of the CMU Pronouncing Dictionary.

The pairs are those of the dictionary's own description and the International Phonetic Association's Handbook (1999),
from memory; sounds of other languages go to the English one that looks nearest on the lips.
"""

from __future__ import annotations

import re
import unicodedata

from pastepot.track.sounds import SOUNDS

_PAIRS = {
    "aɪə": "AY ER", "aʊə": "AW ER", "tʃ": "CH", "dʒ": "JH", "aɪ": "AY", "aʊ": "AW", "eɪ": "EY", "oʊ": "OW", "əʊ": "OW",
    "ɔɪ": "OY", "ɪə": "IH R", "eə": "EH R", "ʊə": "UH R", "ɛɹ": "EH R", "ɜɹ": "ER", "ɚ": "ER", "ɝ": "ER", "əl": "AH L",
    "iə": "IY AH", "ts": "T S", "dz": "D Z", "oː": "OW", "ɔ": "AO", "ɑ": "AA", "ɒ": "AA", "a": "AA", "æ": "AE",
    "ɐ": "AH", "ʌ": "AH", "ə": "AH", "ɜ": "ER", "e": "EH", "ɛ": "EH", "i": "IY", "ɪ": "IH", "ɨ": "IH", "ᵻ": "IH",
    "o": "OW", "u": "UW", "ʊ": "UH", "y": "UW", "ø": "ER", "œ": "ER", "ʏ": "UH", "ɯ": "UW", "ɤ": "AH", "b": "B",
    "β": "V", "c": "K", "ç": "HH", "d": "D", "ɖ": "D", "ð": "DH", "f": "F", "ɸ": "F", "ɡ": "G", "g": "G", "ɣ": "G",
    "h": "HH", "ɦ": "HH", "x": "HH", "χ": "HH", "ħ": "HH", "j": "Y", "ʝ": "Y", "ɟ": "G", "k": "K", "l": "L", "ɫ": "L",
    "ɬ": "L", "ʎ": "L", "ɭ": "L", "m": "M", "ɱ": "M", "n": "N", "ɲ": "N", "ɳ": "N", "ŋ": "NG", "p": "P", "q": "K",
    "r": "R", "ɹ": "R", "ɾ": "D", "ɽ": "R", "ʁ": "R", "ʀ": "R", "ɻ": "R", "s": "S", "ʂ": "SH", "ɕ": "SH", "ʃ": "SH",
    "t": "T", "ʈ": "T", "θ": "TH", "v": "V", "ʋ": "V", "w": "W", "ʍ": "W", "ɰ": "W", "z": "Z", "ʐ": "ZH", "ʑ": "ZH",
    "ʒ": "ZH", "ʔ": "",
}  # fmt: skip
_ANY = re.compile("|".join(sorted(map(re.escape, _PAIRS), key=len, reverse=True)))
_ARPABET = re.compile(r"([A-Z]{1,2})[012]?")


def sounds(text: str) -> list[str]:
    """The dictionary's sounds for a word in the alphabet; marks for length, stress and tone are passed over."""
    plain = "".join(c for c in unicodedata.normalize("NFD", text) if not unicodedata.combining(c) and c not in "ˈˌ͡‿.")
    plain = plain.replace("ː", "").replace("ˑ", "")
    return " ".join(_PAIRS[m[0]] for m in _ANY.finditer(plain)).split()


def label(text: str) -> str | None:
    """One sound as an alignment writes it, in the dictionary's spelling or the alphabet; '' silence, None unknown."""
    text = text.strip()
    if text.lower() in ("", "sil", "sp", "spn", "<sil>", "<eps>", "<p:>", "noise", "#", "_"):
        return ""
    spelled = _ARPABET.fullmatch(text.upper())
    if spelled and spelled[1] in SOUNDS and (text.upper() == text or text[-1].isdigit()):
        return spelled[1]
    found = sounds(text)
    if found:
        return found[0]
    return spelled[1] if spelled and spelled[1] in SOUNDS else None
