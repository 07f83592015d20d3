"""Reading a rulebook file (TOML) into rules, with every slip in it named: others write these files."""

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import MISSING, Field, fields
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, get_type_hints

from inventory.reference.refrigerants import GWP_BASES, refrigerants
from inventory.reference.rule import EQUIPMENT, KNOWN, RECORDS, Rule, Text
from inventory.reference.rules import SECTIONS

CONFIDENCES = tuple(KNOWN)
PRESSURES = ("low", "medium", "high", "very high")

# Exact: the international pound, 1959.
_MILLIGRAMS = {"mg": Fraction(1), "g": Fraction(10**3), "kg": Fraction(10**6), "lb": Fraction("453592.37")}

_HEAD = {"name": str, "title": str, "area": str, "edition": date, "deference": str}
_HEAD_IF_ANY = ("binds", "missing")


class RulebookError(ValueError):
    """A rulebook file is not as it must be. The message names the file, the place and what would be right."""


def milligrams(text: str) -> int:
    """A mass such as "15 lb" or "3 kg" in whole milligrams, rounded half to even as every stored mass is.

    ValueError where it is not a number and one of mg, g, kg and lb.
    """
    number, _, unit = text.strip().partition(" ")
    if unit not in _MILLIGRAMS:
        raise ValueError(f'"{text}" is no mass: write a number, a space and mg, g, kg or lb.')
    mass = Fraction(number) * _MILLIGRAMS[unit]
    if mass <= 0:
        raise ValueError(f'"{text}" is no mass: it must be above zero.')
    return round(mass)


@cache
def selector_words(name: str) -> Callable[[str], bool] | None:
    """The check for fields whose words are the same in every rule: equipment, substances, records, basis."""
    if name == "equipment":
        broad = {f"{word.partition('/')[0]}/*" for word in EQUIPMENT}
        return lambda word: word == "*" or word in EQUIPMENT or word in broad
    if name == "substances":
        kinds = {kind for found in refrigerants().values() for kind in found.kinds}
        of = {"contains": kinds, "without": kinds, "pressure": PRESSURES, "not": refrigerants()}
        return lambda word: (
            word in ("*", "flammable")
            or word in refrigerants()
            or word.partition(":")[2] in of.get(word.partition(":")[0], ())
        )
    if name == "records":
        return lambda word: word == "*" or word in RECORDS
    if name == "basis":
        return lambda word: word in GWP_BASES
    return None


def _expected(hint: Any) -> tuple[str, type]:
    """What a field holds, from its type hint: ("one" or "several", the type of one)."""
    if hint == tuple[str, ...]:
        return "several", str
    for kind in (date, bool, int, Decimal, str):
        if hint == kind or hint == kind | None:
            return "one", kind
    raise TypeError(f"A rule cannot hold {hint}.")


def _one(value: Any, kind: type) -> Any:
    """One value as the type of its field. ValueError where it is another."""
    if kind is Decimal and type(value) in (int, Decimal):
        return Decimal(value)
    if type(value) is not kind:
        names = {
            str: "text",
            int: "a whole number",
            bool: "true or false",
            date: "a day",
            Decimal: "a number",
        }
        raise ValueError(f"must be {names[kind]}, not {value!r}.")
    if kind is str and not value.strip():
        raise ValueError("must not be blank.")
    return value


def _check_words(found: Field, words: tuple[str, ...]) -> None:
    allowed = found.metadata.get("words")
    check = selector_words(found.metadata.get("selectors", found.name)) or (allowed.__contains__ if allowed else None)
    for word in words:
        if check is not None and not check(word):
            told = f": write {', '.join(allowed)}" if allowed else ""
            raise ValueError(f"does not know {word!r}{told}.")


def _value(found: Field, hint: Any, raw: Any) -> Any:
    """The value of one field of a rule, from what stands in the file. ValueError says what is wrong."""
    if found.name.endswith("_mg"):
        return milligrams(_one(raw, str))
    how_many, kind = _expected(hint)
    if how_many == "one":
        value = _one(raw, kind)
        if kind is str:
            _check_words(found, (value,))
        return value
    if not isinstance(raw, list) or not raw:
        raise ValueError("must be a list of at least one text.")
    values = tuple(_one(item, str) for item in raw)
    _check_words(found, values)
    return values


def _file_key(name: str) -> str:
    """The key in the file for a field: masses carry their own unit there, so the file drops "_mg"."""
    return name.removesuffix("_mg")


def _rule(kind: type[Rule], raw: Mapping[str, Any], texts: Mapping[str, Text]) -> Rule:
    """One rule from its table. ValueError names the key at fault."""
    hints = get_type_hints(kind)
    given = dict(raw)
    text_key = given.pop("text", None)
    if text_key not in texts:
        raise ValueError(f"text: does not know {text_key!r}: write {', '.join(texts)}.")
    text = texts[text_key]
    values: dict[str, Any] = {"text": text, "citation": text.title, "confidence": text.confidence}
    by_key = {_file_key(found.name): found for found in fields(kind) if found.name != "text"}
    for key, value in given.items():
        if key not in by_key:
            raise ValueError(f"{key}: no such key here: write {', '.join(by_key)}.")
        try:
            values[by_key[key].name] = _value(by_key[key], hints[by_key[key].name], value)
        except ValueError as error:
            raise ValueError(f"{key}: {error}") from error
    for found in fields(kind):
        if found.name not in values and found.default is MISSING:
            raise ValueError(f"{_file_key(found.name)}: is missing.")
    if values["confidence"] not in CONFIDENCES:
        raise ValueError(f"confidence: write {', '.join(CONFIDENCES)}.")
    if values["confidence"] != "memory" and text.read_on is None:
        raise ValueError(f"confidence: the text {text.key!r} was not read: write memory.")
    rule = kind(**values)
    if rule.from_day and rule.until_day and rule.until_day < rule.from_day:
        raise ValueError("until_day: lies before from_day.")
    return rule


def _text(key: str, raw: Mapping[str, Any]) -> Text:
    known = {"title": str, "confidence": str, "edition": str, "address": str, "read_on": date}
    for name, value in raw.items():
        if name not in known:
            raise ValueError(f"{name}: no such key here: write {', '.join(known)}.")
        _one(value, known[name])
    if "title" not in raw or raw.get("confidence") not in CONFIDENCES:
        raise ValueError(f"a text has a title and a confidence: {', '.join(CONFIDENCES)}.")
    if raw["confidence"] != "memory" and "read_on" not in raw:
        raise ValueError("read_on: is missing: a text that was read names the day.")
    return Text(key=key, **raw)


def _sentences(raw: Any) -> tuple[str, ...]:
    """Sentences of the head; none where the key is not there."""
    if raw is None:
        return ()
    if not isinstance(raw, list) or not raw:
        raise ValueError("binds, missing: write a list of at least one sentence, or leave the key out.")
    return tuple(_one(item, str) for item in raw)


def _are_tables(raw: Any) -> bool:
    return isinstance(raw, list) and all(isinstance(table, dict) for table in raw)


def _check_whole(rules: Mapping[str, tuple[Any, ...]]) -> None:
    """What no single rule can tell: codes and keys that stand once, and grants to schemes that there are."""
    for section, name in (("scheme", "code"), ("caution", "key"), ("practice", "key")):
        seen: set[tuple[str, date | None]] = set()
        for rule in rules[section]:
            once = (getattr(rule, name), rule.from_day)
            if once in seen:
                raise ValueError(f"{section}: {name} {once[0]!r} stands twice.")
            seen.add(once)
    codes = {scheme.code for scheme in rules["scheme"]}
    for section in ("grant", "certificate_demand"):
        for code in {code for rule in rules[section] for code in rule.schemes} - codes - {"*"}:
            raise ValueError(f"{section}: there is no scheme {code!r}: write {', '.join(sorted(codes))}.")
    if not rules["gwp"]:
        raise ValueError("gwp: a rulebook names the GWP basis that it counts with.")


def parse(content: str, where: str) -> dict[str, Any]:
    """The head, texts and rules of a rulebook, by the names that Rulebook has for them.

    where: how messages name the file. RulebookError for anything that is not as it must be.
    """
    try:
        raw = tomllib.loads(content, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        raise RulebookError(f"{where}: {error}") from error
    place = "head"
    try:
        head = {key: _one(raw.pop(key, None), kind) for key, kind in _HEAD.items()}
        head |= {key: _sentences(raw.pop(key, None)) for key in _HEAD_IF_ANY}
        texts = {}
        by_key = raw.pop("texts", {})
        place = "texts"
        if not (isinstance(by_key, dict) and _are_tables(list(by_key.values()))):
            raise ValueError("write each as a table, like [texts.practice].")
        for key, table in by_key.items():
            place = f"texts.{key}"
            texts[key] = _text(key, table)
        rules: dict[str, tuple[Rule, ...]] = dict.fromkeys(SECTIONS, ())
        for section, tables in raw.items():
            place = section
            if section not in SECTIONS or not _are_tables(tables):
                raise ValueError(f"no such list of rules: write {', '.join(f'[[{name}]]' for name in SECTIONS)}.")
            of_section = []
            for number, table in enumerate(tables, 1):
                place = f"{section} {number}"
                of_section.append(_rule(SECTIONS[section], table, texts))
            rules[section] = tuple(of_section)
        place = "as a whole"
        _check_whole(rules)
    except ValueError as error:
        raise RulebookError(f"{where}: {place}: {error}") from error
    return {**head, "texts": MappingProxyType(texts), "sections": MappingProxyType(rules)}


def read(path: Path) -> dict[str, Any]:
    """parse() of a file, whose name must be the name of the rulebook. RulebookError."""
    parsed = parse(path.read_text(encoding="utf-8"), path.name)
    if parsed["name"] != path.stem:
        raise RulebookError(f"{path.name}: head: name: must be {path.stem!r}, as the file is called.")
    return parsed
