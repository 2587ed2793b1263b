"""The words by which weather stations name their columns, in several languages, and the marks for a missing value.

A column is told by the words of its heading, without accents and in small letters. What speaks of another quantity
(rain, wind, the ground, the dew point) is never taken for the temperature of the air.
"""

from __future__ import annotations

import re
import unicodedata


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


DATE_WORDS = _set(
    "date datum fecha data dato dag jour tag day dia giorno paiva paivays paivamaara pvm datetime timestamp "
    "yyyymmdd messdatum zeitstempel horodatage dates obsdate valid datumzeit aeg kuupaev datums"
)
YEAR_WORDS = _set("year yr jahr annee ano anno jaar ar vuosi rok")
MONTH_WORDS = _set("month mon monat mois mes mese maand manad maned kuukausi mesic miesiac mnth")
DAY_WORDS = _set("day tag jour dia giorno dag paiva den dzien")
TIME_WORDS = _set("time hour hr uhrzeit zeit stunde hora heure ora tijd tid klo klockslag hh utc uhr gmt")
# Whole words; for the beginnings of longer ones see below.
MIN_WORDS = _set("tmin tn tnk tmn mnt mintemp tempmin min minimum minimal minima lavest lagst")
MAX_WORDS = _set("tmax tx txk tmx mxt maxtemp tempmax max maximum maximal maxima hogst")
MIN_STARTS = ("minim", "tmin", "tiefst", "niedrigst", "laagst", "lagst", "lavest", "alin", "mintemp", "tempmin")
MAX_STARTS = ("maxim", "tmax", "hochst", "hoogst", "hogst", "hoyest", "ylin", "maxtemp", "tempmax")
LOW_WORDS, HIGH_WORDS = frozenset(("low", "lowest")), frozenset(("high", "highest"))
TEMP_WORDS = _set("temp temperature temperatur temperatura temperatuur lampotila teplota ta tt tu t")
TEMP_STARTS = ("temp", "airtemp", "lufttemp", "lampotil", "outdoortemp")
MEAN_WORDS = _set("mean avg average mittel mittelwert moy moyenne media gemiddelde medel middel tavg tm tmk")
OTHER_STARTS = (
    "hum", "feucht", "humed", "umid", "luchtv", "rh", "wind", "wnd", "gust", "boe", "viento", "vent", "rain", "regen",
    "niedersch", "precip", "prcp", "pluie", "lluvia", "neerslag", "nederb", "press", "druck", "baro", "dew", "taup",
    "rosee", "ground", "grass", "gras", "boden", "erdb", "soil", "sol", "suelo", "jord", "mark", "feel", "chill",
    "heat", "concrete", "wet", "snow", "schnee", "neige", "cloud", "sun", "sonne", "radiat", "uv", "depth", "water",
    "indoor", "inside", "innen", "tgn", "flag", "quality", "qc", "qn", "qualit", "source", "index", "bulb", "5cm",
    "surface", "accumul",
)  # fmt: skip

MISSING = frozenset(
    ("", "-", "--", "---", "—", "–", "na", "n/a", "nan", "null", "none", "m", "x", "?", "*", "/", "//", "nd", "k.a.")
)
MISSING_NUMBERS = frozenset((-99.0, -99.9, -999.0, -999.9, -9999.0, -9999.9, 999.0, 999.9, 9999.0, 9999.9, 99999.0))


def words_of(heading: str) -> list[str]:
    """Return the words of a heading: small letters, no accents, parted at anything that is neither letter nor digit."""
    spaced = re.sub(r"([a-zß-öø-ÿ])([A-Z])", r"\1 \2", heading[:200])  # TempMin: two words
    bare = unicodedata.normalize("NFKD", spaced.lower().replace("ß", "ss").replace("ø", "o").replace("å", "a"))
    return re.findall(r"[a-z0-9]+", "".join(c for c in bare if not unicodedata.combining(c)))


def unit_of(heading: str) -> str | None:
    """Return 'C' or 'F' where a heading says so, else None."""
    low = heading.lower()
    if re.search(r"[°º]\s*f\b|[(\[]\s*f\s*[)\]]|deg(?:rees?|\.)?\s*_?f\b|fahrenheit|[_ ]f$", low):
        return "F"
    if re.search(r"[°º]\s*c\b|[(\[]\s*c\s*[)\]]|deg(?:rees?|\.)?\s*_?c\b|celsius|[_ ]c$|℃|grad\b", low):
        return "C"
    return None


def role_of(heading: str) -> str | None:
    """Return what a column holds by its heading: date, year, month, day, time, tmin, tmax, temp; None: another thing.

    A heading that could be day or date is told as 'date'; who reads a whole row of headings knows better.
    """
    words = words_of(heading)
    if not words:
        return None
    if "q" in words or any(word.startswith(OTHER_STARTS) for word in words):  # q: a mark of quality beside a value
        return None
    if MEAN_WORDS & set(words):
        return None
    is_low = any(word in MIN_WORDS or word.startswith(MIN_STARTS) for word in words)
    is_high = any(word in MAX_WORDS or word.startswith(MAX_STARTS) for word in words)
    is_temp = any(word in TEMP_WORDS or word.startswith(TEMP_STARTS) for word in words)
    if is_temp:
        is_low, is_high = is_low or bool(LOW_WORDS & set(words)), is_high or bool(HIGH_WORDS & set(words))
    if is_low != is_high:
        return "tmin" if is_low else "tmax"
    if is_low:
        return None
    if is_temp:
        return "temp"
    return _when(words)


def _when(words: list[str]) -> str | None:
    for role, known in (("date", DATE_WORDS), ("year", YEAR_WORDS), ("month", MONTH_WORDS), ("time", TIME_WORDS)):
        if known & set(words):
            return role
    return None


def is_day_of_month(heading: str) -> bool:
    """Return whether a heading can mean the day of the month beside columns for year and month."""
    return bool(DAY_WORDS & set(words_of(heading)))
