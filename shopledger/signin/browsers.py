"""What a browser says of itself, in a few words. No Django here."""

import re

# The first that fits: many say that they are others too.
BROWSERS = (
    (r"Edg(?:e|A|iOS)?/", "Edge"),
    (r"OPR/|Opera", "Opera"),
    (r"SamsungBrowser/", "Samsung Internet"),
    (r"Firefox/|FxiOS/", "Firefox"),
    (r"Chrome/|CriOS/|Chromium/", "Chrome"),
    (r"Safari/", "Safari"),
)
SYSTEMS = (
    (r"iPhone", "an iPhone"),
    (r"iPad", "an iPad"),
    (r"Android", "Android"),
    (r"Windows", "Windows"),
    (r"CrOS", "ChromeOS"),
    (r"Macintosh|Mac OS X", "a Mac"),
    (r"Linux|X11", "Linux"),
)


def called(agent: str) -> str:
    """E.g. `Firefox on Android`, from the header User-Agent; what it does not tell is said to be unknown."""
    browser = next((name for sign, name in BROWSERS if re.search(sign, agent)), "")
    system = next((name for sign, name in SYSTEMS if re.search(sign, agent)), "")
    if not browser and not system:
        return "an unknown program"
    return f"{browser or 'a browser'} on {system or 'an unknown system'}"
