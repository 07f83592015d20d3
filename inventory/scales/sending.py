"""What a scale sends: how it is connected, and the form of its lines, confirmed once against its display."""

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass

from django.urls import reverse
from django.utils import timezone

from inventory.containers.models import CONNECTS, PARITIES, Scale
from inventory.ledger.actions import stated
from inventory.measures.quantity import show
from inventory.scales.no_reading import visible
from inventory.scales.string_forms import TICKET_FORM, TYPED_FORMS, WITHOUT_STATE
from inventory.scales.strings import ScaleForm
from inventory.scales.taking import LONGEST, Taken, meanings, take, typed
from inventory.text.refusal import Refused

BAUDS = (300, 600, 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200)
UUID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}|(?:0x)?[0-9a-f]{4}")
BASE_UUID = "0000{}-0000-1000-8000-00805f9b34fb"  # the Bluetooth base, into which a number of four digits goes
STANDARD = ("181d", "2a9d")  # Weight Scale Service and its Weight Measurement, of the Bluetooth SIG
CONNECTION = ["connects", "baud", "data_bits", "parity", "stop_bits", "service", "characteristic"]
FORM = [f"form{of}" for of in ("", "_unit", "_expects", "_line", "_figure", "_by", "_at")]
ROUNDED_MG = 1  # a figure in pounds or ounces is rounded to a whole milligram


@dataclass(frozen=True)
class Connection:
    """How a scale's lines come into a page. connects: one of CONNECTS, blank where they are typed off its display.
    baud to stop_bits: of a serial port; service, characteristic: of Bluetooth, whose notifications carry the lines."""

    connects: str = ""
    baud: int = 9600
    data_bits: int = 8
    parity: str = "none"
    stop_bits: int = 1
    service: str = ""
    characteristic: str = ""


@stated
def connect_scale(scale: Scale, *, connection: Connection) -> Scale:
    """Keep how a scale is connected. Its form stays: that is about what it sends. Raises Refused."""
    if connection.connects not in {"", *dict(CONNECTS)}:
        raise Refused("Choose how the scale sends, or leave it open.", "connects")
    if connection.baud not in BAUDS or connection.parity not in PARITIES:
        raise Refused("Choose what the scale's manual says of its serial port.", "baud")
    if connection.data_bits not in {7, 8} or connection.stop_bits not in {1, 2}:
        raise Refused("A serial port has 7 or 8 data bits, and 1 or 2 stop bits.", "data_bits")
    service, characteristic = connection.service, connection.characteristic
    if connection.connects == "standard":
        service, characteristic = STANDARD
    elif connection.connects != "bluetooth":
        service = characteristic = ""
    scale.service = _uuid(service, "service", connection.connects)
    scale.characteristic = _uuid(characteristic, "characteristic", connection.connects)
    for name in ("connects", "baud", "data_bits", "parity", "stop_bits"):
        setattr(scale, name, getattr(connection, name))
    scale.save(update_fields=CONNECTION)
    return scale


def _uuid(text: str, field: str, connects: str) -> str:
    said = text.strip().lower()
    if not said and connects not in {"bluetooth", "standard"}:
        return ""
    if UUID.fullmatch(said) is None:
        raise Refused(
            f"The {field} has a number such as 0000ffe0-0000-1000-8000-00805f9b34fb, or four digits of it such as "
            "ffe0; the scale's manual names it.",
            field,
        )
    return said if len(said) == 36 else BASE_UUID.format(said[-4:])


@stated
def confirm_form(scale: Scale, *, line: str, meaning: int, shown_mg: int, by: str) -> Scale:
    """Keep the form of a scale's lines. line: one that it sent, as typed; meaning: which of `meanings` it is; shown_mg:
    the figure on its display at that moment, which must be what the line says in that form.

    Raises Refused where it is not. The same said again changes nothing."""
    guesses = [one for one in meanings(line, scale.readability_mg) if one.reading is not None]
    if not 0 <= meaning < len(guesses):
        raise Refused("Choose what the line means; the list below is what it can mean.", "meaning")
    guess = guesses[meaning]
    if abs(guess.reading.mg - shown_mg) > ROUNDED_MG:
        raise Refused(
            f"In that form the line says {guess.reading.figure}, and the display showed another figure. Choose the "
            "form that says what the display shows, or read line and display once more at the same moment.",
            "shown_mg",
        )
    raw = visible(typed(line))
    if len(raw) > LONGEST:
        raise Refused(f"The line has more than {LONGEST} characters; send one weight alone.", "line")
    said = guess.form
    found = {
        "form": said.form,
        "form_unit": said.unit if said.unit and not guess.reading.unit_sent else "",
        "form_expects": said.expects,
    }
    if all(getattr(scale, name) == value for name, value in found.items()):
        return scale
    for name, value in found.items():
        setattr(scale, name, value)
    scale.form_line, scale.form_figure = raw, guess.reading.figure
    scale.form_by, scale.form_at = by, timezone.now()
    scale.save(update_fields=FORM)
    return scale


@stated
def take_form_back(scale: Scale) -> Scale:
    """The form is not confirmed any longer; nothing of this scale is read until it is again."""
    scale.form, scale.form_at = None, None
    scale.form_unit = scale.form_expects = scale.form_line = scale.form_figure = scale.form_by = ""
    scale.save(update_fields=FORM)
    return scale


def form_of(scale: Scale) -> ScaleForm | None:
    """The confirmed form of a scale; None where nobody confirmed one."""
    if scale.form is None:
        return None
    return ScaleForm(scale.form, scale.readability_mg, scale.form_unit, scale.form_expects)


def taken_from(scale: Scale, sent: str) -> Taken:
    """The weight of what a scale sent, written out as `visible` does it. Raises Refused with the reason for none."""
    form = form_of(scale)
    if form is None:
        raise Refused(
            f"Nobody has confirmed yet what scale {scale.code} sends: type what its display shows, and have its form "
            "confirmed once on its page."
        )
    if len(sent) > LONGEST:
        raise Refused("The scale sent more than one weight has; send one weight alone, or type it.")
    taken = take(sent, form)
    if scale.capacity_mg and taken.reading.mg > scale.capacity_mg:
        raise Refused(
            f"{taken.reading.figure} is more than scale {scale.code} carries ({show(scale.capacity_mg, 'g')}): look at "
            "its display and send it again."
        )
    return taken


def scales_said(scales: Iterable[Scale]) -> str:
    """What a page's script has to know of the scales that it can read: those whose form is confirmed, as JSON."""
    return json.dumps([_said(scale) for scale in scales if scale.form is not None and not scale.retired])


def connection_said(scale: Scale) -> dict[str, object]:
    """What a script has to know to open a scale's port."""
    return {"code": scale.code, **{name: getattr(scale, name) for name in CONNECTION}}


def _said(scale: Scale) -> dict[str, object]:
    """sends_state: whether its lines say that the load stands still; ticket: whether several lines are one weight."""
    return {
        **connection_said(scale),
        "usual": scale.usual,
        "typed": scale.connects == "keyboard" and scale.form in TYPED_FORMS,
        "sends_state": scale.form not in WITHOUT_STATE,
        "ticket": scale.form == TICKET_FORM,
        "read": reverse("scale-read", args=[scale.code]),
    }
