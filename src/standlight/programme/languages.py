"""Languages that families of a school may know best: for bank lines that a director translates.

Keys are language tags (BCP 47), so that a screen reader and a browser speak and set them right.
The table is our choice, from memory; a language that is missing is one line more.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Language:
    """``name`` as a director chooses it, ``own_name`` as its speakers write it."""

    name: str
    own_name: str


LANGUAGES = {
    "am": Language("Amharic", "አማርኛ"),
    "ar": Language("Arabic", "العربية"),
    "bn": Language("Bengali", "বাংলা"),
    "zh-Hans": Language("Chinese, simplified", "简体中文"),
    "zh-Hant": Language("Chinese, traditional", "繁體中文"),
    "en": Language("English", "English"),
    "tl": Language("Filipino", "Filipino"),
    "fr": Language("French", "français"),
    "de": Language("German", "Deutsch"),
    "ht": Language("Haitian Creole", "kreyòl ayisyen"),
    "hi": Language("Hindi", "हिन्दी"),
    "hmn": Language("Hmong", "Hmoob"),
    "it": Language("Italian", "italiano"),
    "ja": Language("Japanese", "日本語"),
    "ko": Language("Korean", "한국어"),
    "fa": Language("Persian", "فارسی"),
    "pl": Language("Polish", "polski"),
    "pt": Language("Portuguese", "português"),
    "pa": Language("Punjabi", "ਪੰਜਾਬੀ"),
    "ro": Language("Romanian", "română"),
    "ru": Language("Russian", "русский"),
    "so": Language("Somali", "Soomaali"),
    "es": Language("Spanish", "español"),
    "sw": Language("Swahili", "Kiswahili"),
    "tr": Language("Turkish", "Türkçe"),
    "uk": Language("Ukrainian", "українська"),
    "ur": Language("Urdu", "اردو"),
    "vi": Language("Vietnamese", "Tiếng Việt"),
}
"""Every language a line can be translated into, by tag, in the order of the English names."""
