"""Guessing a person's secrets, wherever they are asked: one count for a person and an address."""

import pytest
from axes.models import AccessAttempt, AccessFailureLog
from django.test import Client
from django.utils import timezone
from django_otp.plugins.otp_totp.models import TOTPDevice

from jobs.people.models import Person
from shopledger.signin import second, throttle
from shopledger.signin.models import WrongGuess
from tests.conftest import PASSWORD
from tests.shopledger.test_signin import code_of, counting, device, sign_in, signed_in  # noqa: F401 (fixtures)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("counting")]
NEW = {"new_password1": "quiet brass manifold", "new_password2": "quiet brass manifold"}


def change(client, old):
    return client.post("/me/password/", {"old_password": old, **NEW})


def turn_off(client, password):
    return client.post("/me/second-factor/", {"password": password})


@pytest.fixture
def inside(shop, technician):
    """Signed in, from the address where the guesses come from."""
    client = Client(REMOTE_ADDR="10.0.0.1")
    client.force_login(technician)
    return client


def test_the_present_password_at_its_change_is_not_guessed_without_end(inside, technician):
    answers = [change(inside, f"wrong {n}").status_code for n in range(5)]
    assert answers[-1] == 429 and 429 not in answers[:-1]
    assert change(inside, PASSWORD).status_code == 429, "while it is shut, the right one is not looked at either"
    assert Person.objects.get(pk=technician.pk).check_password(PASSWORD)


def test_nor_is_the_password_that_turns_the_second_factor_off(technician, device, inside):  # noqa: F811
    answers = [turn_off(inside, f"wrong {n}").status_code for n in range(5)]
    assert answers == [422] * 4 + [429]
    assert turn_off(inside, PASSWORD).status_code == 429 and second.has_second_factor(technician)


def test_all_of_them_are_counted_together(technician, device, inside):  # noqa: F811
    TOTPDevice.objects.update(throttling_failure_count=0)
    assert sign_in(Client(), password="wrong").status_code == 200
    assert change(inside, "wrong").status_code == 200
    assert turn_off(inside, "wrong").status_code == 422
    assert sign_in(Client(), code="000000").status_code == 200
    TOTPDevice.objects.update(throttling_failure_count=0, throttling_failure_timestamp=None)
    assert sign_in(Client(), code="000001").status_code == 429
    TOTPDevice.objects.update(throttling_failure_count=0, throttling_failure_timestamp=None)
    client = Client()
    assert sign_in(client, code=code_of(device)).status_code == 429 and not signed_in(client)
    assert turn_off(inside, PASSWORD).status_code == 429 and change(inside, PASSWORD).status_code == 429


def test_codes_on_paper_are_not_guessed_either(shop, technician):
    codes = second.confirm(technician, code_of(second.prepare(technician)))
    answers = [sign_in(Client(), code=f"1234567{n}").status_code for n in range(5)]
    assert answers[-1] == 429
    assert sign_in(Client(), code=codes[0]).status_code == 429


def test_a_code_left_out_is_no_guess(shop, technician, device):  # noqa: F811
    for _ in range(7):
        assert sign_in(Client()).status_code == 200
    assert sign_in(Client(), code=code_of(device)).status_code == 302


def test_what_was_typed_is_kept_nowhere(technician, device, inside):  # noqa: F811
    typed = "a lamp I typed"
    change(inside, typed)
    turn_off(inside, typed)
    sign_in(Client(), password=typed, code="314159")
    sign_in(Client(), code="271828")
    kept = [
        str(value)
        for table in (AccessAttempt, AccessFailureLog)
        for row in table.objects.values()
        for value in row.values()
    ]
    assert kept and not any(
        word in one for one in kept for word in (typed, typed.replace(" ", "+"), "quiet", "314159", "271828")
    )


# -- from everywhere at once ----------------------------------------------------------------------------------------


def from_everywhere(name="tess", count=throttle.MOST_OF_A_DAY):
    """Four wrong ones from each address: none of them is shut."""
    for n in range(count):
        sign_in(Client(), name, password=f"wrong {n}", address=f"10.{n // 4}.7.7")


def test_a_name_guessed_from_everywhere_is_listened_to_from_where_it_is_known(shop, technician):
    assert sign_in(Client(), address="10.200.0.1").status_code == 302  # the shop's own
    from_everywhere()
    elsewhere = Client()
    assert sign_in(elsewhere, address="10.99.0.1").status_code == 429 and not signed_in(elsewhere)
    client = Client()
    assert sign_in(client, address="10.200.0.1").status_code == 302 and signed_in(client)
    assert sign_in(Client(), "oscar", password="wrong", address="10.99.0.1").status_code == 200, "another name"


def test_fewer_shut_nobody_out_and_a_day_later_it_is_over(shop, technician, monkeypatch):
    from_everywhere(count=throttle.MOST_OF_A_DAY - 1)
    assert sign_in(Client(), address="10.99.0.1").status_code == 302
    from_everywhere(count=1)
    assert sign_in(Client(), address="10.98.0.1").status_code == 429
    later = timezone.now() + throttle.A_DAY
    monkeypatch.setattr("django.utils.timezone.now", lambda: later)
    assert sign_in(Client(), address="10.98.0.1").status_code == 302


def test_the_owner_lets_in_again_there_too(shop, technician, owner_client):
    from_everywhere()
    owner_client.post(f"/people/{technician.pk}/let-in/")
    assert sign_in(Client(), address="10.99.0.1").status_code == 302


def test_who_goes_on_while_it_is_shut_shuts_nobody_else_out(shop, technician):
    """Guesses that are not looked at count for nothing but the address that they come from."""
    for n in range(throttle.MOST_OF_A_DAY + 10):
        sign_in(Client(), password=f"wrong {n}")
    assert WrongGuess.objects.count() == 5
    assert sign_in(Client(), address="10.99.0.1").status_code == 302


def test_a_name_that_nobody_has_is_answered_alike_there_too(shop, technician):
    answers = []
    for name in ("tess", "nobody"):
        from_everywhere(name)
        answers.append(sign_in(Client(), name, password="wrong", address="10.99.0.1").status_code)
    assert answers == [429, 429]


def test_the_newest_failures_are_kept(shop, technician, settings):
    settings.AXES_ACCESS_FAILURE_LOG_PER_USER_LIMIT = 3
    for n in range(5):
        sign_in(Client(), password="wrong", address=f"10.1.1.{n}")
    kept = set(AccessFailureLog.objects.values_list("ip_address", flat=True))
    assert kept == {"10.1.1.2", "10.1.1.3", "10.1.1.4"}
