"""What a scale sent with a weight: read again by the scale's own form before it is kept."""

from collections.abc import Sequence

from django import forms

from inventory.containers.models import Scale
from inventory.scales.sending import taken_from
from inventory.scales.taking import LONGEST
from inventory.text.refusal import Refused


def sent_field() -> forms.CharField:
    """Hidden; a page's script fills it in together with the weight."""
    return forms.CharField(
        widget=forms.HiddenInput(attrs={"autocomplete": "off"}), required=False, strip=False, max_length=LONGEST
    )


def read_again(form: forms.Form, data: dict[str, object], scales: Sequence[Scale], weights: Sequence[str]) -> None:
    """Put what is kept beside a weight in the place of what the scale sent, and name that scale, the usual one too.
    Where the scale did not say what the field says, the field is at fault. weights: names of the fields."""
    for weight in weights:
        sent = data.get(f"{weight}_raw") or ""
        data[f"{weight}_raw"] = ""
        if not sent or weight not in form.fields or data.get(weight) is None:
            continue
        scale = _scale(data.get("scale") or "", scales)
        try:
            if scale is None:
                raise Refused("No scale is named, and none is the usual one: choose the one that sent this weight.")
            taken = taken_from(scale, sent)
            if taken.reading.mg != data[weight]:
                raise Refused(
                    f"Scale {scale.code} sent {taken.reading.figure}, and this is another weight: read it again, or "
                    "type over it what its display shows."
                )
        except Refused as refused:
            form.add_error(weight, refused.message)
        else:
            data["scale"], data[f"{weight}_raw"] = scale.code, taken.kept


def _scale(code: str, scales: Sequence[Scale]) -> Scale | None:
    return next((scale for scale in scales if (scale.code == code if code else scale.usual)), None)
