"""Tags that show what the rulebook says, and why. Every template has them without loading them."""

from functools import lru_cache

from django import template
from django.template.context import Context
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from inventory.measures.days import said_days
from inventory.reference.rule import System
from inventory.shop.clock import today
from inventory.verdicts.explaining import Explained, Ground, as_read, explained
from inventory.verdicts.verdict import Verdict

register = template.Library()
SOON = 92  # days: what is to be done within a quarter is due, later it is only known; common practice, no source
LATER = ("not yet due", "idle")


@register.inclusion_tag("_verdict.html")
def verdict(found: Verdict | Explained, beside: str | None = None) -> dict[str, object]:
    """A verdict that opens to its figures, its rules and what would change it: `{% verdict unit_check %}`. beside: the
    text next to which it stands, where the page says it already, in its words or in others:
    `{% verdict objection.verdict beside=objection.message %}`."""
    it = as_read(explained(found) if isinstance(found, Verdict) else found)
    by = found.by if isinstance(found, Verdict) and found.answer == "due" else None
    later = by is not None and (by - today()).days > SOON
    return {
        "it": it,
        "word": LATER[0] if later else it.word,
        "look": LATER[1] if later else it.look,
        "rules": [_rule(one) for one in it.grounds],
        "stands": beside is None,
        "repeat": beside is not None and it.said not in said_days(beside),
    }


@lru_cache(maxsize=500)
def _rule(one: Ground) -> SafeString:
    """A rule as it is shown, drawn once: many rows of a list lean on the same few, and this is most of the work."""
    return render_to_string("_verdict_rule.html", {"one": one})


@register.inclusion_tag("_duties.html", takes_context=True)
def duties(context: Context, page: str, system: System | None = None) -> dict[str, object]:
    """The duties that the rulebook has for a page (of `rules.DUTY_PAGES`) and that no figure can check. system: what
    the page is about, where it is equipment or refrigerant: `{% duties "unit" system %}`."""
    return {"duties": context["request"].shop.rules.duties(page, system, today())}
