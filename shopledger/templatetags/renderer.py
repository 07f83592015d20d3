"""Draws form fields. The job page holds some hundred of them, and Django's template for each widget was most of
the time that it took; what every page needs is written out here, anything else goes to the templates.

The markup is that of Django's own widget templates, with the label, help and errors of this site's fields.
"""

from collections.abc import Callable

from django.forms.boundfield import BoundField
from django.forms.renderers import TemplatesSetting
from django.utils.html import conditional_escape as escape
from django.utils.safestring import SafeString, mark_safe


def _attrs(attrs: dict) -> str:
    return "".join(
        f" {name}" if value is True else f' {name}="{escape(str(value))}"'
        for name, value in attrs.items()
        if value is not False
    )


def _input(context: dict) -> str:
    widget = context["widget"]
    value = widget["value"]
    said = "" if value is None else f' value="{escape(str(value))}"'
    return f'<input type="{widget["type"]}" name="{escape(widget["name"])}"{said}{_attrs(widget["attrs"])}>'


def _textarea(context: dict) -> str:
    widget = context["widget"]
    value = escape(widget["value"]) if widget["value"] else ""
    return f'<textarea name="{escape(widget["name"])}"{_attrs(widget["attrs"])}>\n{value}</textarea>'


def _select(context: dict) -> str:
    widget = context["widget"]
    parts = [f'<select name="{escape(widget["name"])}"{_attrs(widget["attrs"])}>']
    for group, options, _ in widget["optgroups"]:
        if group:
            parts.append(f'<optgroup label="{escape(group)}">')
        parts += (
            f'<option value="{escape(str(one["value"]))}"{_attrs(one["attrs"])}>{escape(one["label"])}</option>'
            for one in options
        )
        if group:
            parts.append("</optgroup>")
    return "".join(parts) + "</select>"


def _doubt(doubt: object) -> str:
    """What may be meant by what is asked about, each a button, and the box that says it is right as it was typed."""
    buttons = (
        f'<button name="settle" value="{escape(value)}" formnovalidate>{escape(words)}</button>'
        for value, words in doubt.meant
    )
    right = ""
    if doubt.may_be_right:
        typed = escape(doubt.answer.typed.text)
        box = f'<input type="checkbox" name="sure" value="{escape(doubt.sure)}">'
        right = f"<label>{box} {typed} is right</label>"
    return f'<div class="doubt cluster" role="group" aria-label="Which is meant?">{"".join(buttons)}{right}</div>'


def _field(context: dict) -> str:
    field: BoundField = context["field"]
    errors = field.errors
    parts = [f'<div class="field{" faulty" if errors else ""}">\n']
    optional = "" if field.field.required else ' <span class="optional">(optional)</span>'
    box = field.widget_type == "checkbox"
    if field.use_fieldset:
        described = field.aria_describedby
        parts.append(f'<fieldset aria-describedby="{described}">' if described else "<fieldset>")
        parts.append(f"<legend>{escape(field.label)}{optional}</legend>")
    elif not box:
        parts.append(f'<label for="{escape(field.id_for_label)}">{escape(field.label)}{optional}</label>\n')
    if field.help_text:
        parts.append(f'<div class="help" id="{escape(field.auto_id)}_helptext">{escape(field.help_text)}</div>\n')
    if errors:
        parts.append(str(errors))
    if box:
        parts.append(f'<label for="{escape(field.id_for_label)}">{field} {escape(field.label)}</label>')
    else:
        parts.append(str(field))
    if errors and getattr(field.form, "asks_at_fields", False):
        parts += (_doubt(one) for one in field.form.doubts if one.field == field.name)
    parts.append("</fieldset></div>" if field.use_fieldset else "</div>")
    return "".join(parts)


WIDGETS = "django/forms/widgets/"
DRAWN: dict[str, Callable[[dict], str]] = {
    **{f"{WIDGETS}{name}.html": _input for name in ("text", "hidden", "number", "password", "email", "date", "input")},
    f"{WIDGETS}datetime.html": _input,
    f"{WIDGETS}checkbox.html": _input,
    f"{WIDGETS}textarea.html": _textarea,
    f"{WIDGETS}select.html": _select,
    "django/forms/field.html": _field,
}


class Renderer(TemplatesSetting):
    """Django's renderer, with the common parts drawn directly."""

    def render(self, template_name: str, context: dict, request=None) -> SafeString:
        draw = DRAWN.get(template_name)
        if draw is None:
            return super().render(template_name, context, request)
        return mark_safe(draw(context))  # noqa: S308 (each part is escaped above)
