"""Who and what the demonstration is about. Everything is invented and says so: no person, maker, vehicle,
supplier or figure is real. Pure: no Django here."""

from dataclasses import dataclass

from jobs.units.vin import YEAR_CODES, check_digit

PASSWORD = "show me the ledger"  # of a shop that does not exist  # noqa: S105
SHOP = "Larkspur Climate Garage (invented)"
TOWN = "Imaginary Falls"
OWNER, OFFICE = ("olga", "Olga Larkspur"), ("otto", "Otto Penn")
# Username, name, and the units that they like to read.
TECHNICIANS = (
    ("tara", "Tara Finch", "g", "mL"),
    ("timo", "Timo Reed", "oz", "fl oz"),
    ("tess", "Tess Arbor", "g", "mL"),
)
GASES, PARTS, RECLAIMER = "Make-Believe Gases", "Pretend Parts & Oils", "Second Life Reclaim (invented)"
GROCER = "Fenwick & Daughters"  # one of the customers, with stationary equipment besides
CUSTOMERS = (
    "Ada Quill",
    "Bram Osterhout-Vale",
    "Cleo Marsh-Imaginary",
    "Dorian Pell",
    "Esme Fictive",
    GROCER,
    "Greta Nonesuch",
    "Hollis Madeup",
    "Ines Storybrook",
    "Jonas Notreal",
    "Kestrel Couriers",
    "Lena Pretend",
)


@dataclass(frozen=True)
class Model:
    """A vehicle model. Label's charge in mg, oil in the system in uL."""

    make: str
    model: str
    year: int
    gas: str
    least: int
    most: int
    oil: str
    oil_ul: int
    high_voltage: bool = False


MODELS = (
    Model("Quillon", "Arbour", 2016, "R-134a", 500_000, 540_000, "PAG 46", 120_000),
    Model("Quillon", "Brook", 2021, "R-1234yf", 440_000, 470_000, "PAG 100", 100_000),
    Model("Ostrane", "Cirrus", 2014, "R-134a", 570_000, 610_000, "PAG 46", 130_000),
    Model("Ostrane", "Delta V", 2022, "R-1234yf", 480_000, 520_000, "PAG 100", 110_000),
    Model("Verrin", "Ember minibus", 2018, "R-134a", 900_000, 960_000, "PAG 46", 220_000),
    Model("Verrin", "Fjord E", 2023, "R-1234yf", 540_000, 580_000, "POE 68", 150_000, True),
)


@dataclass(frozen=True)
class Visit:
    """Why a vehicle comes and what is done. left: the share of the label's charge that is still in it, percent."""

    complaint: str
    repairs: str
    opened: bool
    leak_result: str
    left: tuple[int, int]


VISITS = (
    Visit("Blows warm at idle", "Condenser and receiver-drier replaced", True, "found and repaired", (8, 35)),
    Visit("Yearly service", "", False, "none found", (82, 97)),
    Visit(
        "Weak since last summer",
        "Valve core and O-rings of the low side replaced",
        True,
        "found and repaired",
        (30, 60),
    ),
    Visit("Windscreen mists up", "Cabin filter replaced", False, "none found", (70, 92)),
    Visit(
        "Rattles when the compressor starts",
        "Compressor and expansion valve replaced, lines flushed",
        True,
        "none found",
        (60, 90),
    ),
)


def invented_vin(number: int, year: int) -> str:
    """A VIN that nobody can mistake for a real one, of a model year from 2010 on, with the check digit that
    49 CFR 565.15 asks for."""
    start, end = "ZZZDEMX", f"{YEAR_CODES[year - 2010]}X{number:06d}"
    return f"{start}0{check_digit(f'{start}00{end}')}{end}"


def invented_plate(number: int) -> str:
    return f"NOT-{100 + number}"
