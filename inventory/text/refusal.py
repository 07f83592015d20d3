"""The one exception for input that the ledger cannot take."""


class Refused(Exception):
    """What was asked cannot be done, and nothing was changed.

    message: a whole sentence for the person who asked: what is wrong and what would be right.
    field: the form field or CSV column at fault, where there is one.
    """

    def __init__(self, message: str, field: str | None = None):
        super().__init__(message)
        self.message = message
        self.field = field
