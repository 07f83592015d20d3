"""Why refrigerant got into the air, and how it is known how much did. Pure: no Django here."""

CAUSES = {
    "hose": "burst hose",
    "valve": "leaking valve",
    "cylinder": "leaking cylinder",
    "fall": "fall or impact",
    "relief": "relief valve opened",
    "fire": "fire",
    "other": "something else",
}
OTHER = "other"
ITSELF = ("valve", "cylinder", "fall", "relief", "fire")  # the container may leak still
ALL, WEIGHED, ESTIMATED = "all", "weighed", "estimated"
HOW = {
    ALL: "all that is in it by the book",
    WEIGHED: "it was weighed",
    ESTIMATED: "it is estimated",
}


def cause_called(words: str) -> str:
    """The cause that is called so, by its key or in words; blank for none of them."""
    said = " ".join(words.lower().split())
    return next((key for key, called in CAUSES.items() if said in {key, called}), "")
