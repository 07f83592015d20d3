"""What a browser would send of a page's form, read from its HTML."""

from html.parser import HTMLParser


class _Form(HTMLParser):
    def __init__(self):
        super().__init__()
        self.fields: dict[str, list[str]] = {}
        self.inside = self.select = self.area = None

    def handle_starttag(self, tag, attrs):
        said = dict(attrs)
        if tag == "form":
            self.inside = said.get("method", "").lower() == "post"
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
            self.fields = {name: [one.removeprefix("\n") for one in values] for name, values in self.fields.items()}
        elif tag == "select":
            self.select = None
        elif tag == "form":
            self.inside = False


def sent(page: str) -> dict[str, object]:
    """The fields of a page's forms that post, filled in as they are shown; one value each, or a list of several."""
    found = _Form()
    found.feed(page)
    said = {name: values[0] if len(values) == 1 else values for name, values in found.fields.items() if values}
    said.pop("csrfmiddlewaretoken", None)
    return said
