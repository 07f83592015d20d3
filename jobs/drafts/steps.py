"""The steps of a job, and why each matters. Pure: no Django here."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Step:
    """asks: the keys of signing's objections that a reason for skipping the step answers."""

    title: str
    why: str
    asks: tuple[str, ...] = ()


STEPS = {
    "identify": Step(
        "Identify", "what is in the unit decides where it may go: a wrong gas spoils the machine and the stock"
    ),
    "recover": Step("Recover", "what is not recovered before the unit is opened goes into the air"),
    "repair": Step("Repairs and leak check", "a leak that stays lets the new charge out again"),
    "test": Step("Pressure test", "a unit that does not hold pressure does not hold its charge"),
    "evacuate": Step(
        "Evacuate and hold",
        "air and water left in the unit raise its pressure and eat it from inside",
        ("evacuation", "hold"),
    ),
    "oil": Step("Oil", "too little oil, or the wrong one, destroys the compressor"),
    "check": Step("Check the performance", "it shows that the charge does what it should"),
}
