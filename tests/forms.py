"""What a browser would send of a page's form, read from its HTML."""

from html.parser import HTMLParser


class _Form(HTMLParser):
    def __init__(self):
        super().__init__()
        self.forms: list[tuple[str, dict[str, list[str]]]] = []
        self.fields: dict[str, list[str]] = {}
        self.inside = self.select = self.area = None

    def handle_starttag(self, tag, attrs):
        said = dict(attrs)
        if tag == "form":
            self.inside = said.get("method", "").lower() == "post"
            if self.inside:
                self.fields = {}
                self.forms.append((said.get("action", ""), self.fields))
        if not self.inside:
            return
        name = said.get("name")
        if tag == "input" and name and (said.get("type") not in {"checkbox", "radio"} or "checked" in said):
            self.fields.setdefault(name, []).append(said.get("value", "on" if said.get("type") == "checkbox" else ""))
        elif tag == "textarea":
            self.area, self.fields[name] = name, [""]
        elif tag == "select":
            self.select = name
            self.fields.setdefault(name, [])
        elif tag == "option" and self.select and (not self.fields[self.select] or "selected" in said):
            self.fields[self.select] = [said.get("value", "")]

    def handle_data(self, data):
        if self.area:
            self.fields[self.area][0] += data

    def handle_endtag(self, tag):
        if tag == "textarea":
            self.area = None
            for values in self.fields.values():
                values[:] = [one.removeprefix("\n") for one in values]
        elif tag == "select":
            self.select = None
        elif tag == "form":
            self.inside = False


def forms_of(page: str) -> list[tuple[str, dict[str, object]]]:
    """A page's forms that post, each with its address ("" for the page's own) and its fields as they are filled in:
    one value each, or a list of several."""
    found = _Form()
    found.feed(page)
    return [(action, _single(fields)) for action, fields in found.forms]


def sent(page: str) -> dict[str, object]:
    """The fields of all forms of a page that post, as `forms_of` has them."""
    found = _Form()
    found.feed(page)
    merged: dict[str, list[str]] = {}
    for _, fields in found.forms:
        for name, values in fields.items():
            merged.setdefault(name, []).extend(values)
    return _single(merged)


def _single(fields: dict[str, list[str]]) -> dict[str, object]:
    said = {name: values[0] if len(values) == 1 else values for name, values in fields.items() if values}
    said.pop("csrfmiddlewaretoken", None)
    return said
