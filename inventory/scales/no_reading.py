"""Why no weight is taken from what a scale sent, each reason with its sentence. Pure: no Django here."""

from inventory.text.refusal import Refused

UNSTABLE, OVERLOAD, UNDERLOAD, ERROR, BUSY = "unstable", "overload", "underload", "error", "busy"
COUNT, PERCENT, TARE, NOMINAL = "count", "percent", "tare", "nominal"
NO_UNIT, UNIT_NOT_SET, UNIT_NOT_TAKEN = "no unit", "unit not set", "unit not taken"
TWO_DECIMAL_SIGNS, NO_WEIGHT, TICKET = "two decimal signs", "no weight", "ticket"
ZERO_OFF, NET_SENT, GROSS_SENT = "zero is off", "net sent", "gross sent"
INCOMPLETE, UNKNOWN_MARK, OTHER_FORM = "incomplete", "unknown mark", "other form"
COARSE, NOT_STILL = "coarse", "not still"

_SENTENCES = {
    UNSTABLE: "The weight was still moving: wait until the display stands still, then send it again.",
    OVERLOAD: "The scale says overload: take the load off, and weigh it on a scale that carries more.",
    UNDERLOAD: "The scale says underload: empty it, see that its platform lies right, set it to zero and weigh again.",
    ERROR: "The scale says that something is wrong with it: read its display, put that right and weigh again.",
    BUSY: "The scale could not answer just then: wait until its display stands still, then send the weight again.",
    COUNT: "The scale sent a count of pieces, which is no weight: switch it to weighing and send again.",
    PERCENT: "The scale sent a percentage, which is no weight: switch it to weighing and send again.",
    TARE: "The scale sent its tare, which is not what lies on it: have it show the gross weight and send again.",
    NOMINAL: "The scale sent a nominal value, which nobody weighed: have it show the gross weight and send again.",
    NO_UNIT: '"{raw}" carries no unit: have the scale send its unit, or confirm the form of its lines anew.',
    UNIT_NOT_SET: '"{raw}" carries no unit: say once, with the scale, which unit it sends.',
    UNIT_NOT_TAKEN: 'The unit "{unit}"{means} is not taken from a scale: switch the scale to g, kg, lb or oz.',
    TWO_DECIMAL_SIGNS: '"{number}" has two decimal signs, so its value is open: have the scale send one at most.',
    NO_WEIGHT: '"{raw}" is no weight that can be on a shop\'s scale: look at its display and send it again.',
    TICKET: "The ticket does not hold together, for {wrong}: print it again.",
    ZERO_OFF: "The scale shows {figure}, so its zero is off: empty it, set it to zero and weigh again.",
    NET_SENT: "The scale sent a net weight where gross is expected: clear its tare and send the weight again.",
    GROSS_SENT: "The scale sent a gross weight where net is expected: tare it as always and send the weight again.",
    INCOMPLETE: '"{raw}" is not complete, for {missing} is missing: wait for the rest, or send the weight again.',
    UNKNOWN_MARK: 'What the scale means by "{mark}" is not known: look into its manual, or type the weight.',
    COARSE: "This Bluetooth service sends steps of {step}, coarser than the scale's own: type what its display shows.",
    NOT_STILL: "Two lines one after the other differ, so the load moved: wait until it hangs still, then read again.",
    OTHER_FORM: '"{raw}" is not written in the form confirmed for this scale: send it again, or confirm its form anew.',
}
REASONS = tuple(_SENTENCES)

_SHOWN = 40  # characters of a line in a sentence
_NAMES = {"\x02": "<STX>", "\x03": "<ETX>", "\r": "<CR>", "\n": "<LF>", "\t": "<TAB>"}


class NoReading(Refused):
    """No weight is taken from this. why: one of REASONS; message: the sentence that says it and what to do."""

    def __init__(self, why: str, **said: str):
        super().__init__(_SENTENCES[why].format(**said))
        self.why = why


def visible(raw: str) -> str:
    """What a scale sent with what cannot be seen written out: `<STX> 00412.3G<ETX>`. Fit to be shown and to be kept."""
    return "".join(_NAMES.get(one) or (one if one.isprintable() else f"<U+{ord(one):04X}>") for one in raw)


def heard(shown: str) -> str:
    """What a scale sent, from how `visible` writes it out."""
    for character, name in _NAMES.items():
        shown = shown.replace(name, character)
    return shown


def shortly(raw: str) -> str:
    """The same for a sentence: without the end of the line, and not longer than a sentence bears."""
    shown = visible(raw.strip("\r\n\t\x02\x03"))
    return shown if len(shown) <= _SHOWN else f"{shown[:_SHOWN]}..."
