"""Complete lines out of what a scale sends bit by bit. Pure: no Django here.

A browser that reads a port does the same and sends whole lines, untrimmed: blanks in front and behind say something.
It decodes each byte as the character of the same number, drops what came before the first end of line (it may be the
rest of a line), begins anew at each STX, and leaves everything else to `read`. The lines of a ticket are sent together.
"""

STX, ETX, TAB = "\x02", "\x03", "\t"
ENDS = f"\r\n{ETX}"
TYPED_ENDS = f"{ENDS}{TAB}"  # a scale that types into the page as a keyboard does
LINE_LIMIT = 120  # characters; the longest form has 22 and a ticket's line fits on its paper


class LineBuffer:
    """Splits what comes in into complete lines; what has no end yet waits.

    from_start: whether the first character is known to begin a line, as with a scale that was silent until its key was
    pressed. Otherwise what comes before the first end may be the rest of a line, and is dropped unless STX begins it.
    """

    def __init__(self, *, from_start: bool = False, ends: str = ENDS):
        self._begun = from_start
        self._ends = ends
        self.waiting = ""

    def feed(self, text: str) -> list[str]:
        """The lines that are complete with this text, each as it was sent with the end it has. Blank ones are none."""
        found = []
        for character in text:
            if character == STX:
                self.waiting, self._begun = "", True
            self.waiting += character
            if character in self._ends:
                if self._begun and self.waiting.strip(f" {STX}{self._ends}"):
                    found.append(self.waiting)
                self.waiting, self._begun = "", True
            elif len(self.waiting) > LINE_LIMIT:  # noise, or another speed of the port: the next end begins a line
                self.waiting, self._begun = "", False
        return found
