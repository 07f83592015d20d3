"""Tags and filters that every template has without loading them."""

import datetime as dt
import re
import uuid
from collections.abc import Callable, Mapping
from fractions import Fraction

from django import template
from django.db.models import Model
from django.forms import BaseForm
from django.shortcuts import resolve_url
from django.template.base import render_value_in_context
from django.template.context import Context
from django.urls import reverse
from django.utils import timezone
from django.utils.html import conditional_escape, escape, format_html, format_html_join, strip_tags
from django.utils.http import urlencode
from django.utils.safestring import SafeString, mark_safe
from django_tables2 import Table

from inventory.audit.queries import changes_of
from inventory.ledger.erasing import erasable_kinds
from inventory.ledger.models import Voucher
from inventory.ledger.records import record_kinds
from inventory.measures.days import said_day, said_days
from inventory.measures.money import show_money
from inventory.measures.quantity import exact, grouped, plainly, show, show_in, ungrouped
from inventory.shop.back import BACK, back_of
from shopledger.navigation.keys import Key, keys_of
from shopledger.navigation.ways import Entry, ways

register = template.Library()

NOTHING = mark_safe('<span class="soft">–</span>')  # noqa: S308 (a constant)


def _person(context: Context) -> object:
    return getattr(context.get("request"), "user", None) or context.get("user")


def _shown(value: int | None, unit: str, write: Callable[[int, str], str] = show) -> SafeString:
    """A quantity; where it is rounded, or in another unit than was chosen, all its digits are on demand (app.js)."""
    if value is None:
        return NOTHING
    said, whole = write(value, unit), exact(value, unit)
    if ungrouped(said) == whole:
        return format_html('<span class="q">{}</span>', said)
    return format_html('<data class="q" value="{}" title="{}">{}</data>', whole, grouped(whole), said)


@register.simple_tag(takes_context=True)
def mass(context: Context, milligrams: int | None, beside: str = "") -> SafeString:
    """Milligrams in the unit that the signed-in person chose, or the one of the field that it stands beside; a dash for
    None."""
    if beside:
        return _shown(milligrams, beside, show_in)
    return _shown(milligrams, getattr(_person(context), "mass_unit", "g"))


@register.simple_tag(takes_context=True)
def volume(context: Context, microlitres: int | None) -> SafeString:
    """Microlitres in the unit that the signed-in person chose; a dash for None."""
    return _shown(microlitres, getattr(_person(context), "volume_unit", "mL"))


@register.simple_tag(takes_context=True)
def quantity(context: Context, value: int | None, of: object) -> SafeString:
    """A quantity of gas or oil: uL of an oil as a volume, mg of a refrigerant as a mass. of: what says `is_oil` (a
    substance, a container, a row of a list), or the answer itself."""
    return volume(context, value) if getattr(of, "is_oil", of) else mass(context, value)


@register.simple_tag
def saves(form: object, words: str) -> str:
    """What the button of a form says: that it posts a new entry, where the one before was recorded already."""
    return form.anew if getattr(form, "posts_anew", False) else words


@register.simple_tag(takes_context=True)
def money(context: Context, minor: int | None) -> str:
    """An amount in the shop's currency; a dash where there is none."""
    return "–" if minor is None else show_money(minor, context["request"].shop.currency)


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
    number = plainly(milligrams, unit).removesuffix(f" {unit}")
    return number if number.replace(".", "", 1).isdigit() else ""


@register.filter(expects_localtime=True)
def day(value: dt.date | dt.datetime | None) -> SafeString:
    """A day of the shop's calendar, e.g. 2 Mar 2026; a dash for None."""
    if value is None or value == "":
        return NOTHING
    date = value.date() if isinstance(value, dt.datetime) else value
    return format_html('<time datetime="{}">{}</time>', date.isoformat(), said_day(date))


@register.filter
def days(words: str) -> str:
    """A sentence that is kept with its days as 2026-03-02, with them as pages say them."""
    return said_days(str(words))


@register.filter(expects_localtime=True)
def moment(value: dt.datetime | None) -> SafeString:
    """A day and a time of day at the shop, e.g. 2 Mar 2026, 14:05; a dash for None."""
    if value is None or value == "":
        return NOTHING
    return format_html('<time datetime="{}">{}, {}</time>', value.isoformat(), said_day(value), value.strftime("%H:%M"))


LOOKS = {"agrees": "good", "tare taken": "good", "weighing difference": "idle"}


@register.filter
def look(outcome: str) -> str:
    """How a badge shows what a weighing found: good, idle, or bad where weighing alone cannot explain it."""
    return LOOKS.get(outcome, "bad")


@register.simple_tag(takes_context=True)
def figure(context: Context, cell: dict) -> SafeString:
    """What a cell of a report says (of shopledger.reports.cells), with the way to what is behind it. A tag, since a
    report's page holds some thousand of them."""
    if cell["quantity"]:
        said = quantity(context, cell["value"], cell["oil"])
    else:
        parted = cell["value"] and getattr(cell.get("column"), "numeric", False)
        value = grouped(str(cell["value"])) if parted else cell["value"]
        said = day(cell["day"]) if cell["day"] else conditional_escape(value or "–")
    return format_html('<a href="{}">{}</a>', cell["link"], said) if cell["link"] else said


@register.simple_tag(takes_context=True)
def moved(context: Context, job: object, oil: bool = True) -> SafeString:
    """What went in and out at a visit, e.g. `, charged 500 g, recovered 40 g, 10 mL of oil`; nothing where nothing
    did. job: a signed one; oil: whether that is told."""
    said = [
        format_html(", charged {}", mass(context, job.charged_mg)) if job.charged_mg else "",
        format_html(", recovered {}", mass(context, job.recovered_mg)) if job.recovered_mg else "",
        format_html(", {} of oil", volume(context, job.oil_added_ul)) if oil and job.oil_added_ul else "",
    ]
    return mark_safe("".join(said))  # noqa: S308 (each part is escaped above)


@register.simple_tag
def listed(*parts: object) -> SafeString:
    """Those of the parts that say something, with commas between."""
    return format_html_join(", ", "{}", ((part,) for part in parts if part not in (None, "")))


@register.simple_block_tag
def fact(content: str, label: str) -> SafeString:
    """A fact with its label, one row of `<dl class="facts">` or `<dl class="summary">`:
    `{% fact "Place" %}{{ container.location }}{% endfact %}`. Left out where it says nothing."""
    said = mark_safe(content.strip())  # noqa: S308 (a part of the template, rendered)
    return format_html("<div><dt>{}</dt><dd>{}</dd></div>", label, said) if said else said


@register.simple_block_tag
def table(content: str, *columns: str, labelled: str = "", label: str = "") -> SafeString:
    """A table whose rows are written out: `{% table "Day" "Held:number" labelled="held" %}<tr><td>...{% endtable %}`.

    Each bare <td> gets the heading of its column, for phones, and the look of a number where that is said behind it.
    labelled: the id of the heading that names the table; else label says its name.
    """
    names = [(name.removesuffix(":number"), ' class="number"' * name.endswith(":number")) for name in columns]
    heads = format_html_join("", "<th{}>{}</th>", ((mark_safe(look), name) for name, look in names))  # noqa: S308 (a constant)
    cells = [f'<td{look} data-label="{escape(name)}">' if name else f"<td{look}>" for name, look in names]
    rows = []
    for row in content.split("<tr>"):
        first, *rest = re.split("<td(?=[ >])", row)
        said = [cells[i] + cell[1:] if cell[0] == ">" else f"<td{cell}" for i, cell in enumerate(rest)]
        rows.append(first + "".join(said))
    body = mark_safe("<tr>".join(rows))  # noqa: S308 (a part of the template, rendered)
    named = format_html('aria-labelledby="{}"', labelled) if labelled else format_html('aria-label="{}"', label)
    return format_html(
        '<div class="table-box" tabindex="0" role="region" {}><table class="table"><thead><tr>{}</tr></thead>'
        "<tbody>{}</tbody></table></div>",
        named,
        heads,
        body,
    )


def _address(page: str, args: tuple, query: dict) -> str:
    return (resolve_url(page, *args) if page else "") + (f"?{urlencode(query)}" if query else "")


@register.simple_tag
def crumb(label: str, page: str, *args: object, **query: object) -> SafeString:
    """The way back above a heading. page: the name of a page, with its arguments, or an address; blank is this
    page. What else is named goes into the address as its query."""
    return format_html('<p class="crumb"><a href="{}">{}</a></p>', _address(page, args, query), label)


@register.simple_tag
def button(label: str, page: str, *args: object, look: str = "", **query: object) -> SafeString:
    """A link that looks like a button: `{% button "Move" "move" codes=container.code look="primary" %}`. look: primary,
    quiet or danger; all else as for `crumb`."""
    return format_html('<a class="{}" href="{}">{}</a>', f"button {look}".strip(), _address(page, args, query), label)


IN_THE_ROW = 4  # filters beside each other at a desk


@register.simple_tag
def folded(form: BaseForm) -> dict[str, object]:
    """The filters above a list: those in its one row, the others, which fold, and how many of the others are set."""
    shown = form.visible_fields()
    row, rest = (shown, []) if len(shown) <= IN_THE_ROW + 1 else (shown[:IN_THE_ROW], shown[IN_THE_ROW:])
    changed = set(form.changed_data)
    return {"row": row, "rest": rest, "set": sum(field.name in changed or bool(field.errors) for field in rest)}


@register.simple_tag(takes_context=True)
def goes_back(context: Context) -> str:
    """What an address says of the page to go back to, behind the address of a form: `?back=...`; blank where this page
    was not led to from one."""
    back = back_of(context["request"])
    return f"?{urlencode({BACK: back})}" if back else ""


@register.simple_tag(takes_context=True)
def way_back(context: Context) -> SafeString:
    """The way back to the page that led here, where its address says which; nothing otherwise."""
    back = back_of(context["request"])
    return crumb("Back to where you were", back) if back else ""


@register.simple_tag
def alert(said: str | None) -> SafeString:
    """What was refused, above what it is about; nothing where nothing was."""
    return format_html('<div class="errors" role="alert" tabindex="-1"><p>{}</p></div>', said) if said else ""


@register.simple_tag
def in_place(page: str, *args: object) -> SafeString:
    """The attributes of a form of the job page, and where it posts to: what it says is kept on the phone until the
    server has it (outbox.js), and the page goes on meanwhile."""
    return format_html('method="post" action="{}" data-own', resolve_url(page, *args))


@register.filter
def of(found: Mapping[str, object], key: str) -> object:
    """What a mapping has under a key; None where it has nothing."""
    return found.get(key) if found else None


@register.simple_tag
def new_key() -> str:
    """The id of a form that is recorded once, where no form object makes it: `{% new_key %}`."""
    return str(uuid.uuid4())


@register.simple_tag(takes_context=True)
def navigation(context: Context) -> list[Entry]:
    """The entries of the navigation for the person signed in: `{% navigation as entries %}`."""
    return ways(getattr(_person(context), "role", ""), context["request"].path)


@register.simple_tag(takes_context=True)
def keys(context: Context) -> list[Key]:
    """The keys of the main actions that the person signed in has: `{% keys as known %}`."""
    return keys_of(getattr(_person(context), "role", ""))


@register.inclusion_tag("trail/_of.html", takes_context=True)
def what_happened(context: Context, record: Model) -> dict[str, object]:
    """What happened to a record outside the ledger, for office and owner: `{% what_happened unit %}`. For the owner
    also the way to the page that erases its words, where it has any."""
    role = getattr(_person(context), "role", None)
    return {
        "changes": changes_of(record) if role in {"office", "owner"} else [],
        "erase": erase_address(record) if role == "owner" else "",
    }


@register.simple_tag(takes_context=True)
def erasing_way(context: Context, record: Model) -> str:
    """The address that erases the words of a thing, for the owner; blank for others: `{% erasing_way job as way %}`."""
    return erase_address(record) if getattr(_person(context), "role", None) == "owner" else ""


def erase_address(record: Model) -> str:
    """The page that erases the words of a thing; blank where it has none."""
    if isinstance(record, Voucher):
        return reverse("erase", args=["entry", record.number]) if record.note else ""
    kind = record_kinds.get(type(record))
    has = kind is not None and record.pk and kind.name in erasable_kinds()
    return reverse("erase", args=[kind.name, kind.key_of(record)]) if has else ""


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
