"""Passwords: which are refused, that none is for its signs, and how they are kept."""

import gzip
import random
import re
from pathlib import Path

import pytest
from django.apps import apps
from django.contrib.auth import password_validation
from django.contrib.auth.hashers import PBKDF2PasswordHasher, make_password
from django.core.exceptions import ValidationError
from django.test import Client
from django_otp.oath import totp
from zxcvbn.frequency_lists import FREQUENCY_LISTS

from inventory.shop.clock import today
from jobs.people.models import Person
from shopledger import settings as ours
from shopledger.inspectors.actions import issue_access
from shopledger.signin import second
from shopledger.signin.passwords import WORDS
from tests.conftest import PASSWORD
from tests.doors.test_code import SOURCES
from tests.shopledger.test_signin import code_of

pytestmark = pytest.mark.django_db


def refused(password, person=None):
    try:
        password_validation.validate_password(password, person)
    except ValidationError:
        return True
    return False


def stolen():
    """Every password that is known here from breaches."""
    with gzip.open(Path(password_validation.__file__).with_name("common-passwords.txt.gz"), "rt") as file:
        return set(file.read().split()) | set(FREQUENCY_LISTS["passwords"])


def test_stolen_passwords_are_refused_and_what_is_made_of_them(shop, owner):
    known = stolen()
    assert len(known) > 40_000
    long = sorted(one for one in known if len(one) >= 10)
    made = sorted(f"{one.capitalize()}123" for one in known if 8 <= len(one) < 10)
    assert len(long) > 2000 and len(long) + len(made) > 10_000
    choose = random.Random(5)
    assert [one for one in choose.sample(long, 100) if not refused(one, owner)] == []
    let_through = [one for one in choose.sample(made, 100) if not refused(one, owner)]
    assert len(let_through) <= 10, let_through


@pytest.mark.parametrize(
    "password",
    ["Refrigerant2026!", "TestShop2026!", "technician1234", "Olive.Test.2026", "Shopledger#12", "Cylinder2026"],
)
def test_words_of_the_shop_are_tried_first_by_others_too(shop, owner, password):
    assert refused(password, owner), password


def test_the_words_are_those_that_are_documented():
    page = (ours.BASE_DIR / "shopledger/deploy/security.md").read_text(encoding="utf-8")
    assert "`WORDS`" in page and "shopledger/signin/passwords.py" in page
    assert {"shopledger", "refrigerant", "technician", "owner", "admin"} <= set(WORDS)


GOOD = [
    "seven green umbrellas sing",
    "семь зелёных зонтов поют",
    "nur kleine buchstaben hier",
    "    blanks  at   both ends   ",
    "Ün! cödé ßpace \U0001f9ca mixed",
    "x" * 3 + "a quiet lamp over the river " * 30,
]


@pytest.mark.parametrize("password", GOOD)
def test_no_rule_about_its_signs_and_none_about_its_length(shop, owner, owner_client, password):
    """Taken as it was typed: nothing cut, trimmed or folded. Capitals count."""
    assert not refused(password, owner)
    sent = {"old_password": PASSWORD, "new_password1": password, "new_password2": password}
    assert owner_client.post("/me/password/", sent).status_code == 302
    owner.refresh_from_db()
    assert owner.check_password(password)
    for other in (password.strip(), password[:-1], password.swapcase()):
        assert other == password or not owner.check_password(other)
    client = Client()
    assert client.post("/sign-in/", {"username": "olive", "password": password}).status_code == 302


def test_a_password_does_not_end_by_the_calendar(shop, technician, client):
    from tests.kept import saved

    saved(technician, date_joined="2001-01-01T00:00:00Z")
    answer = client.post("/sign-in/", {"username": "tess", "password": PASSWORD})
    assert answer.status_code == 302 and answer.url == "/", "nobody is led to change it"


def test_they_are_kept_slowly_and_with_salt(settings):
    settings.PASSWORD_HASHERS = ours.PASSWORD_HASHERS
    assert ours.PASSWORD_HASHERS[0].endswith(".PBKDF2PasswordHasher")
    assert PBKDF2PasswordHasher.iterations >= 600_000, "OWASP's figure for PBKDF2 with SHA-256, 2023"
    assert PBKDF2PasswordHasher.digest().name == "sha256"
    one, other = (make_password("a quiet lamp", hasher=PBKDF2PasswordHasher()) for _ in range(2))
    assert one != other and len(one.split("$")[2]) >= 22, "128 random bits"


def test_who_signs_in_is_kept_with_the_rounds_of_today(shop, technician, client, settings):
    settings.PASSWORD_HASHERS = ours.PASSWORD_HASHERS
    hasher = PBKDF2PasswordHasher()
    from tests.kept import saved

    saved(technician, password=hasher.encode(PASSWORD, hasher.salt(), 1000))
    assert client.post("/sign-in/", {"username": "tess", "password": PASSWORD}).status_code == 302
    rounds = Person.objects.get(pk=technician.pk).password.split("$")[1]
    assert int(rounds) == PBKDF2PasswordHasher.iterations


def test_nobody_is_there_before_somebody_is_made(db):
    assert not Person.objects.exists()


def test_no_form_asks_for_a_hint_or_a_question():
    said = "".join(path.read_text(encoding="utf-8") for path in (ours.BASE_DIR / "templates").rglob("*.html")).lower()
    assert "hint for" not in said and "secret question" not in said and "maiden" not in said
    assert not {field.name for field in Person._meta.fields} & {"hint", "question", "answer"}


# -- the second factor, and sessions ----------------------------------------------------------------------


def test_a_new_password_takes_no_second_factor_away(shop, technician, owner_client):
    second.confirm(technician, code_of(second.prepare(technician)))
    new = "seven green umbrellas sing"
    owner_client.post(f"/people/{technician.pk}/password/", {"password": new, "repeated": new})
    technician.refresh_from_db()
    assert technician.check_password(new) and second.has_second_factor(technician)
    client = Client()
    client.post("/sign-in/", {"username": "tess", "password": new})
    assert "_auth_user_id" not in client.session


@pytest.mark.parametrize(("steps", "counts"), [(0, True), (-1, True), (-2, False), (2, False)])
def test_a_code_of_a_device_lasts_half_a_minute(technician, monkeypatch, steps, counts):
    """30 seconds, and those before it for a clock that is late (RFC 6238, 5.2); what is older is refused."""
    for place in ("time.time", "django_otp.oath.time"):
        monkeypatch.setattr(place, lambda: 1_800_000_015.0)
    device = second.prepare(technician)
    assert device.step == 30
    code = f"{totp(device.bin_key, step=30, digits=6, drift=steps):06d}"
    assert device.verify_token(code) is counts


def test_codes_on_paper_are_kept_as_hashes_alone(shop, technician):
    codes = second.confirm(technician, code_of(second.prepare(technician)))
    held = "".join(repr(list(model._base_manager.values_list())) for model in apps.get_models())
    assert len(codes) == 8 and not any(code in held for code in codes)


def test_a_session_s_name_is_not_guessed(client, shop, technician):
    """Letters and digits at random: 32 of 36 kinds are 165 bits; and the cookie says nothing else."""
    names = set()
    for _ in range(20):
        visitor = Client()
        visitor.post("/sign-in/", {"username": "tess", "password": PASSWORD})
        names.add(visitor.cookies["sessionid"].value)
    assert len(names) == 20
    for name in names:
        assert len(name) >= 26 and "tess" not in name and str(technician.pk) + ":" not in name


def test_who_left_is_out_with_the_next_page(shop, technician, technician_client):
    from tests.kept import saved

    assert technician_client.get("/").status_code == 200
    saved(technician, is_active=False)
    assert technician_client.get("/").status_code == 302


def test_what_the_program_makes_up_is_long_enough(shop, owner, technician):
    """An inspector's password: 96 random bits, behind the throttle; seeds of codes 160; salts of words 128."""
    _, password = issue_access(name="Ira", first=today(), last=today(), until=today(), by=owner)
    assert len(password) >= 16 and not refused(password)
    assert len(second.prepare(technician).bin_key) * 8 >= 160
    source = (ours.BASE_DIR / "inventory/ledger/statements.py").read_text(encoding="utf-8")
    assert "secrets.token_hex(16)" in source


def test_no_secret_stands_in_the_program():
    """No key, no password and no address with one; the demo's people are invented, and said to be."""
    found = []
    for path in [*SOURCES, *ours.BASE_DIR.glob("shopledger/deploy/*")]:
        name = path.relative_to(ours.BASE_DIR).as_posix()
        if name.startswith("shopledger/demo/"):
            continue
        text = path.read_text(encoding="utf-8")
        pattern = r"(?i)(?:secret_key|password|passwd|token|api_?key)\w*\s*=\s*[\"'][^\"'{}\s]{8,}[\"']"
        found += [(name, one) for one in re.findall(pattern, text)]
        found += [(name, one) for one in re.findall(r"-----BEGIN [A-Z ]*PRIVATE KEY", text)]
        found += [(name, one) for one in re.findall(r"postgres://\w+:(?!password|\.\.\.)[^@\s]+@", text)]
    assert found == []
