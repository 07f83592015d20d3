"""Tags that show what the rulebook says, and why. Every template has them without loading them."""

from django import template

from inventory.verdicts.explaining import Explained, explained
from inventory.verdicts.verdict import Verdict

register = template.Library()


@register.inclusion_tag("_verdict.html")
def verdict(found: Verdict | Explained, beside: str | None = None) -> dict[str, object]:
    """A verdict that opens to its figures, its rules and what would change it: `{% verdict unit_check %}`. beside: the
    text next to which it stands, where the page says it already, in its words or in others:
    `{% verdict objection.verdict beside=objection.message %}`."""
    it = explained(found) if isinstance(found, Verdict) else found
    return {"it": it, "stands": beside is None, "repeat": beside is not None and it.said not in beside}
