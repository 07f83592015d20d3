"""The general forms in which scales write a weight, each taken apart into what it says. Pure: no Django here.

No open standard defines the first twelve. They are common practice of serial outputs and of scales that type like a
keyboard: forms 1 to 5 as instrument manuals have them, 6 and 7 after Sensors 2010, 10(10), table 1, the others from
memory. So each scale is tried once, and its form confirmed against its display. A letter means what it means in its
form alone.
The thirteenth is the Weight Measurement characteristic (0x2A9D) of the Bluetooth SIG's Weight Scale Service (0x181D),
written out as hexadecimal octets; its flags and steps are as remembered, and are tried at the display as the others.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial

from inventory.scales.no_reading import (
    BUSY,
    COUNT,
    ERROR,
    NOMINAL,
    OTHER_FORM,
    OVERLOAD,
    PERCENT,
    TARE,
    TICKET,
    UNDERLOAD,
    UNKNOWN_MARK,
    UNSTABLE,
    NoReading,
    shortly,
)

FORMS = {  # an example of each, as a page shows it
    1: "ST,GS,+0000.412kg",
    2: "US,NT,- 12.345 kg",
    3: "ST,+00412.3  g",
    4: "OL,GS,+9999999 g",
    5: "      412.3 g",
    6: "<STX> 00412.3G<ETX>",
    7: "<STX> 00412.3GS Z kg<ETX>",
    8: "S S     412.3 g",
    9: "+   412.3 g  ",
    10: "412.3 g",
    11: "412.3",
    12: "G 18.432 kg, T 17.757 kg, N 0.675 kg",
    13: "2A9D 00 5C 00",
}
ALIKE = {2: 1, 4: 1}  # how a scale of form 1 says that it moves, and that it is overloaded: one form, once confirmed
WITHOUT_UNIT = (6, 11)
TYPED_FORMS = (10, 11)  # of scales that type into the page: a tab ends them too
TICKET_FORM = 12
MEASUREMENT_FORM = 13  # of the Weight Scale Service
WITHOUT_STATE = (10, 11, 12, 13)  # of which no line says whether the load stood still

GROSS, NET, NOT_SAID = "gross", "net", ""
STABLE, AT_ZERO = "stable", "at zero"
TAKEN_MARKS = {GROSS, NET, STABLE, AT_ZERO}  # every other meaning is a reason that no weight is taken

_BASES = {GROSS: GROSS, NET: NET}
_WORDS = {
    **dict.fromkeys(("ST", "S"), STABLE),
    **dict.fromkeys(("GS", "G", "B", "GROSS"), GROSS),
    **dict.fromkeys(("NT", "N", "NET"), NET),
    **dict.fromkeys(("T", "TR", "TARE", "PT"), TARE),
    **dict.fromkeys(("US", "SD", "M", "U", "?", "*"), UNSTABLE),
    **dict.fromkeys(("OL", "O", "H", "HIGH"), OVERLOAD),
    **dict.fromkeys(("UL", "L", "LOW"), UNDERLOAD),
    **dict.fromkeys(("E", "ERR", "ERROR", "--"), ERROR),
    **dict.fromkeys(("QT", "PC", "PCS"), COUNT),
    "%": PERCENT,
    "Z": AT_ZERO,
}
_LETTERS = {"G": GROSS, "N": NET, "U": UNDERLOAD, "O": OVERLOAD, "M": UNSTABLE, "E": ERROR}
# What a letter usually means, in the forms where scales differ: a set-up may say otherwise.
USUAL_LETTERS: dict[int, Mapping[str, str]] = {5: _WORDS, 6: _LETTERS, 7: _LETTERS}


@dataclass(frozen=True)
class Sent:
    """What a line says, as written. unit: "" where it has none. ounces: beside the pounds. stable: whether it says so.
    placed: whether the unit has a place of its own, so that a capital G in it is no mark for gross."""

    sign: str
    number: str
    unit: str
    ounces: str = ""
    basis: str = NOT_SAID
    stable: bool = False
    placed: bool = False


def sent(form: int, text: str, letters: Mapping[str, str]) -> Sent:
    """What a line says: the text between its beginning and its end. letters: what a set-up says of some. Raises
    NoReading where it carries no weight to be taken, before any of its digits is read."""
    return _READERS[form](text, letters)


def ticket(lines: Iterable[str]) -> dict[str, Sent]:
    """Gross, tare (or preset tare) and net of a ticket's lines, each once. Lines that begin with no mark for them are
    passed over: day, number, name of the shop. Raises NoReading."""
    found: dict[str, Sent] = {}
    for line in lines:
        match = _TICKET_LINE.fullmatch(line)
        if match is None:
            _refuse_status(line)
            continue
        name = _TICKET_MARKS[match["mark"].upper()]
        before = {TARE, PRESET_TARE} if name in {TARE, PRESET_TARE} else {name}
        if before & found.keys():
            raise NoReading(TICKET, wrong=f"it has two lines for {name}")
        found[name] = _plain(match["value"], {})
    return found


# Each form


def _headed(text: str, letters: Mapping[str, str], *, names_basis: bool | None) -> Sent:
    """Forms 1 to 4. names_basis: whether GS or NT stands in it; None where both occur."""
    match = _HEADED.fullmatch(text)
    if match is None:
        raise _other(text)
    head, basis, value = match["head"], match["basis"], match["value"]
    state = _WORDS.get(head)
    if state == OVERLOAD and value.lstrip().startswith("-"):
        state = UNDERLOAD
    if state in {GROSS, NET, TARE}:  # the rest of a line that lost its beginning
        raise _other(text)
    _refuse(head, {head: state} if state else {})
    if names_basis is not None and names_basis != bool(basis):
        raise _other(text)
    said = _basis([basis] if basis else [], _WORDS)
    match = _HEADED_VALUE.fullmatch(value)
    if match is None:
        raise _other(text)
    return _sent(match, basis=said, stable=True, placed=True)


def _justified(text: str, letters: Mapping[str, str]) -> Sent:
    """Form 5. A right-justified number has a blank or a sign before it: one that has lost its front is not read.

    What is left of `- 412.3 g` or of `1 lb 12.0 oz` behind a blank looks whole: LineBuffer keeps that from coming here.
    """
    match = _JUSTIFIED.fullmatch(text)
    if match is None:
        _refuse_status(text)
        raise _other(text)
    marks = [mark.upper() for mark in re.findall(r"[?*]|[^?* ]+", match["rest"])]
    basis = _basis(marks, {**_WORDS, **letters})
    return _sent(match, basis=basis, stable=True)


def _lettered(text: str, letters: Mapping[str, str]) -> Sent:
    """Form 6: the last letter is the state."""
    match = _LETTERED.fullmatch(text)
    if match is None:
        raise _other(text)
    basis = _basis([match["letter"]], {**_LETTERS, **letters})
    return _from_field(match, text, basis=basis)


def _positioned(text: str, letters: Mapping[str, str]) -> Sent:
    """Form 7: four letters by position, then the unit, which is blank while the load moves."""
    match = _POSITIONED.fullmatch(text)
    if match is None:
        raise _other(text)
    basis = _basis([match["load"]], {**_LETTERS, **letters})
    _refuse(match["motion"], {" ": STABLE, "S": STABLE, "M": UNSTABLE})
    for mark in (match["zero"], match["range"]):
        _refuse(mark, {" ": STABLE, "Z": AT_ZERO} | ({mark: STABLE} if mark.isdigit() else {}))
    unit = match["unit"].strip()
    if not unit:
        raise NoReading(UNSTABLE)
    return _from_field(match, text, unit=unit, basis=basis, placed=True)


def _replied(text: str, letters: Mapping[str, str]) -> Sent:
    """Form 8: the command for a weight, echoed, and its state."""
    if re.match("SD(?: |$)", text):
        raise NoReading(UNSTABLE)
    match = _REPLIED.fullmatch(text)
    if match is None:
        raise _other(text)
    _refuse(match["state"], {"S": STABLE, "D": UNSTABLE, "I": BUSY, "+": OVERLOAD, "-": UNDERLOAD})
    value = _WEIGHED.fullmatch(match["value"])
    if value is None:
        raise _other(text)
    return _sent(value, stable=True, placed=True)


def _named(text: str, letters: Mapping[str, str]) -> Sent:
    """Form 9. The unit is blank while the load moves. All but zero have a sign: one that has lost it is not read."""
    match = _NAMED.fullmatch(text)
    if match is None:
        _refuse_status(re.sub(r"^ *(?:N|G#?|T)? *[+-]? *", "", text))
        raise _other(text)
    if not 12 <= len(text) <= 22:
        raise _other(text)
    name = match["name"]
    names = {"": NOT_SAID, "N": NET, "G#": GROSS, "G": GROSS, "T": TARE, "Nnom": NOMINAL}
    basis = _basis([name], names) if name else NOT_SAID
    if not match["unit"]:
        raise NoReading(UNSTABLE)
    if not match["sign"] and re.search("[1-9]", match["number"]):
        raise _other(text)
    return _sent(match, basis=basis, stable=True)


def _plain(text: str, letters: Mapping[str, str]) -> Sent:
    """Form 10, and the value in a line of form 12."""
    match = _PLAIN.fullmatch(text)
    if match is None:
        _refuse_status(text)
        raise _other(text)
    if match["mark"]:
        raise NoReading(UNSTABLE)
    return _sent(match)


def _bare(text: str, letters: Mapping[str, str]) -> Sent:
    """Form 11."""
    match = _BARE.fullmatch(text)
    if match is None:
        _refuse_status(text)
        raise _other(text)
    return Sent(match["sign"], match["number"], "")


# Steps of a Weight Measurement: 0.005 kg, or 0.01 lb where the first flag is set. In milligrams, rounded up.
MEASUREMENT_STEPS_MG = {"kg": 5_000, "lb": 4_536}
# What the other flags say follows the weight, in octets: a time stamp, a user, body mass index with height.
_FOLLOWS = {0b0010: 7, 0b0100: 1, 0b1000: 4}
_UNSUCCESSFUL = 0xFFFF


def _measured(text: str, letters: Mapping[str, str]) -> Sent:
    """Form 13: flags, then the weight in two octets, the lower first."""
    if re.fullmatch("2A9D(?: [0-9A-F]{2}){3,19}", text) is None:
        raise _other(text)
    flags, low, high, *rest = (int(octet, 16) for octet in text.split(" ")[1:])
    if flags > 0b1111 or len(rest) != sum(octets for flag, octets in _FOLLOWS.items() if flags & flag):
        raise _other(text)
    steps = low + 256 * high
    if steps == _UNSUCCESSFUL:
        raise NoReading(ERROR)
    if flags & 1:
        return Sent("", f"{steps // 100}.{steps % 100:02}", "lb", placed=True)
    return Sent("", f"{5 * steps // 1000}.{5 * steps % 1000:03}", "kg", placed=True)


_READERS: dict[int, Callable[[str, Mapping[str, str]], Sent]] = {
    1: partial(_headed, names_basis=True),
    2: partial(_headed, names_basis=True),
    3: partial(_headed, names_basis=False),
    4: partial(_headed, names_basis=None),
    5: _justified,
    6: _lettered,
    7: _positioned,
    8: _replied,
    9: _named,
    10: _plain,
    11: _bare,
    13: _measured,
}

# How they are written. No blank but the space: a line holds no other.

_NUMBER = r"[.,]?[0-9](?:[0-9.,]*[0-9])?"
_SIGNED = rf" *(?P<sign>[+-]?) *(?P<number>{_NUMBER})"


def _weight(before_unit: str) -> str:
    """A number and its unit; pounds and ounces as two numbers, `1 lb 12.0 oz` or `1:12.0 lb:oz`."""
    return (
        rf"{_SIGNED}(?::(?P<colon>{_NUMBER}))?{before_unit}(?P<unit>[A-Za-z]+(?::[A-Za-z]+)?|%|)"
        rf"(?: *(?P<ounces>{_NUMBER}) *[Oo][Zz])?"
    )


_WEIGHT = _weight(" *")
_HEADED = re.compile(r"(?P<head>[A-Z]{2}) *, *(?:(?P<basis>[A-Z]{2}) *, *)?(?P<value>.*)")
_HEADED_VALUE = re.compile(_weight(" *,? *") + " *")
_JUSTIFIED = re.compile(rf"(?=[ +-]){_WEIGHT}(?P<rest>(?:[ ?*].*)?)")
_LETTERED = re.compile(r"\x02(?P<sign>[ +-])(?P<field>[^A-Za-z]*)(?P<letter>[A-Z])")
_POSITIONED = re.compile(
    r"\x02(?P<sign>[ +-])(?P<field>[^A-Za-z]*)"
    r"(?P<load>[A-Z])(?P<motion>[A-Z ])(?P<zero>[A-Z ])(?P<range>[A-Z0-9 ])(?P<unit>[A-Za-z :%]{0,5})"
)
_REPLIED = re.compile(r"S[A-Z]{0,2} +(?P<state>[A-Z+-])(?P<value>(?: +.*)?)")
_WEIGHED = re.compile(_weight(" *") + " *")
_NAMED = re.compile(rf"(?P<name>[A-Za-z][A-Za-z#]{{0,5}})?{_WEIGHT} *")
_PLAIN = re.compile(_weight(" *") + " *(?P<mark>[?*]?) *")
_BARE = re.compile(_SIGNED + " *")

PRESET_TARE = "preset tare"
_TICKET_MARKS = {
    **dict.fromkeys(("GROSS", "G", "B"), GROSS),
    **dict.fromkeys(("TARE", "T"), TARE),
    "PT": PRESET_TARE,
    **dict.fromkeys(("NET", "N"), NET),
}
_TICKET_LINE = re.compile(r" *(?P<mark>GROSS|G|B|TARE|T|PT|NET|N)(?: *:)?(?P<value>[ +-].*)", re.IGNORECASE)


# What they have in common


def _sent(match: re.Match, **said: object) -> Sent:
    unit, ounces = match["unit"], match["colon"] or match["ounces"] or ""
    together = unit.lower() == "lb:oz"
    if bool(match["colon"]) > together or (match["ounces"] and (match["colon"] or unit.lower() != "lb")):
        raise _other(match.string)
    return Sent(match["sign"], match["number"], unit, ounces=ounces, **said)


def _from_field(match: re.Match, text: str, *, unit: str = "", **said: object) -> Sent:
    """The number of forms 6 and 7: seven figures with their point, so that one that lost a figure is not read."""
    field = match["field"]
    number = re.fullmatch(rf" *({_NUMBER})", field)
    if number is None or not 7 <= len(field) <= 8:
        raise _other(text)
    return Sent(match["sign"].strip(), number[1], unit, stable=True, **said)


def _basis(marks: Iterable[str], meanings: Mapping[str, str]) -> str:
    """Gross, net or not said, from the marks of a line. Raises NoReading for a mark that says anything else."""
    for mark in marks:
        _refuse(mark, meanings)
    said = {_BASES[meanings[mark]] for mark in marks if meanings[mark] in _BASES}
    if len(said) > 1:
        raise NoReading(UNKNOWN_MARK, mark=shortly(" ".join(marks)))
    return said.pop() if said else NOT_SAID


def _refuse(mark: str, meanings: Mapping[str, str]) -> None:
    """Raises NoReading unless the mark means something that a weight can be taken with."""
    meaning = meanings.get(mark)
    if meaning is None:
        raise NoReading(UNKNOWN_MARK, mark=shortly(mark))
    if meaning not in TAKEN_MARKS:
        raise NoReading(meaning)


def _refuse_status(text: str) -> None:
    """Raises NoReading where a mark stands in the place of digits."""
    word = text.strip().partition(" ")[0].upper()
    if re.fullmatch(r"\^{3,}|-{3,}", word):
        raise NoReading(OVERLOAD)
    if re.fullmatch("_{3,}", word):
        raise NoReading(UNDERLOAD)
    meaning = _WORDS.get(word)
    if meaning in {OVERLOAD, UNDERLOAD, ERROR}:
        raise NoReading(meaning)


def _other(text: str) -> NoReading:
    return NoReading(OTHER_FORM, raw=shortly(text))
