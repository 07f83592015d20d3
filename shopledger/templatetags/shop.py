"""Tags and filters that every template has without loading them."""

import datetime as dt
from fractions import Fraction

from django import template
from django.db.models import Model
from django.template.base import render_value_in_context
from django.template.context import Context
from django.utils import timezone
from django.utils.html import conditional_escape, escape, format_html, strip_tags
from django.utils.safestring import SafeString, mark_safe
from django_tables2 import Table

from inventory.audit.queries import changes_of
from inventory.measures.quantity import show
from shopledger.navigation.ways import Entry, ways

register = template.Library()

NOTHING = mark_safe('<span class="soft">–</span>')  # noqa: S308 (a constant)


def _person(context: Context) -> object:
    return getattr(context.get("request"), "user", None) or context.get("user")


def _shown(value: int | None, unit: str) -> SafeString:
    return NOTHING if value is None else format_html('<span class="q">{}</span>', show(value, unit))


@register.simple_tag(takes_context=True)
def mass(context: Context, milligrams: int | None) -> SafeString:
    """Milligrams in the unit that the signed-in person chose; a dash for None."""
    return _shown(milligrams, getattr(_person(context), "mass_unit", "g"))


@register.simple_tag(takes_context=True)
def volume(context: Context, microlitres: int | None) -> SafeString:
    """Microlitres in the unit that the signed-in person chose; a dash for None."""
    return _shown(microlitres, getattr(_person(context), "volume_unit", "mL"))


@register.simple_tag(takes_context=True)
def quantity(context: Context, value: int | None, substance: object) -> SafeString:
    """A quantity of a substance: volume for an oil (`substance.is_oil`), mass for a refrigerant."""
    return volume(context, value) if substance.is_oil else mass(context, value)


@register.filter
def whole(value: Fraction) -> int:
    """The nearest whole number, half to even."""
    return round(value)


@register.filter
def tenths(value: Fraction) -> str:
    """A number with one decimal."""
    return f"{float(round(value, 1)):.1f}"


@register.filter
def percent(value: Fraction) -> str:
    """A percentage with one decimal, rounded half to even."""
    return f"{float(round(value, 1)):.1f} %"


@register.filter
def in_unit(milligrams: int, unit: str) -> str:
    """The bare number of a mass in a unit, for scripts to count with; nothing where it is written in two units."""
    number = show(milligrams, unit).removesuffix(f" {unit}")
    return number if number.replace(".", "", 1).isdigit() else ""


@register.filter(expects_localtime=True)
def day(value: dt.date | dt.datetime | None) -> SafeString:
    """A day of the shop's calendar, e.g. 2 Mar 2026; a dash for None."""
    if value is None or value == "":
        return NOTHING
    date = value.date() if isinstance(value, dt.datetime) else value
    return format_html('<time datetime="{}">{}</time>', date.isoformat(), written(date))


@register.filter(expects_localtime=True)
def moment(value: dt.datetime | None) -> SafeString:
    """A day and a time of day at the shop, e.g. 2 Mar 2026, 14:05; a dash for None."""
    if value is None or value == "":
        return NOTHING
    return format_html('<time datetime="{}">{}, {}</time>', value.isoformat(), written(value), value.strftime("%H:%M"))


def written(date: dt.date) -> str:
    """A day as text, e.g. 2 Mar 2026."""
    # Not strftime("%-d"): Windows has no such code, and %Y drops zeros before the year 1000.
    return f"{date.day} {date.strftime('%b')} {date.year}"


@register.filter
def has_role(person: object, roles: str) -> bool:
    """`{% if user|has_role:"office owner" %}`: whether the person has one of the roles named."""
    return getattr(person, "role", None) in roles.split()


@register.simple_tag(takes_context=True)
def navigation(context: Context) -> list[Entry]:
    """The entries of the navigation for the person signed in: `{% navigation as entries %}`."""
    return ways(getattr(_person(context), "role", ""), context["request"].path)


@register.inclusion_tag("trail/_of.html", takes_context=True)
def what_happened(context: Context, record: Model) -> dict[str, object]:
    """What happened to a record outside the ledger, for office and owner: `{% what_happened unit %}`."""
    may = getattr(_person(context), "role", None) in {"office", "owner"}
    return {"changes": changes_of(record) if may else []}


@register.simple_tag
def table_rows(table: Table) -> SafeString:
    """The <tr> of a table, each cell carrying its column's heading for phones.

    Written here and not in the template, since this loop is most of the time that a list takes: what is the
    same in every row is made once. A column's `attrs={"td": {...}}` holds plain values; the rest of the
    table library (callables per cell excepted) works as documented.
    """
    columns = []
    for column in table.columns:
        header = column.header  # text, or markup such as a box that ticks all rows
        label = escape((strip_tags(header) if isinstance(header, SafeString) else str(header)).strip())
        attrs = "".join(f' {name}="{escape(value)}"' for name, value in (column.column.attrs.get("td") or {}).items())
        columns.append(f'<td data-label="{label}"{attrs}>' if label else f"<td{attrs}>")
    lines = []
    for row in table.paginated_rows:
        lines.append(f"<tr {row.attrs.as_html()}>" if table.row_attrs else "<tr>")
        for start, (_, cell) in zip(columns, row.items(), strict=True):
            lines.append(f"{start}{_cell(cell)}</td>")
        lines.append("</tr>\n")
    return mark_safe("".join(lines))  # noqa: S308 (each part is escaped above)


def _cell(value: object) -> str:
    if isinstance(value, str):
        return conditional_escape(value)
    if isinstance(value, dt.datetime):
        return moment(timezone.localtime(value) if timezone.is_aware(value) else value)
    if isinstance(value, dt.date):
        return day(value)
    return conditional_escape(render_value_in_context(value, Context(autoescape=True)))
