"""What signing in keeps beside the password. None of it is evidence: that a way of signing in changed is told in the
record (`inventory/audit/recording.py`), and what is kept here changes with every page."""

from django.conf import settings
from django.db import models
from django.utils import timezone


class Pin(models.Model):
    """Six digits by which a person comes back on a phone where they signed in in full today. hashed: as a password."""

    person = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="pin")
    hashed = models.CharField(max_length=128)
    made = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"PIN since {self.made:%Y-%m-%d %H:%M}"


class Phone(models.Model):
    """A browser that people may come back on by PIN, known by its cookie.

    cookie: SHA-256 of what the cookie holds. shared: a person there said that several people use it, so it locks.
    here: who was signed in last, and did not sign out.
    """

    cookie = models.CharField(max_length=64, unique=True)
    browser = models.CharField(max_length=60)
    shared = models.BooleanField(default=False)
    here = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, related_name="+")
    used = models.DateTimeField("last signed in on", default=timezone.now)

    def __str__(self) -> str:
        return self.browser


class Standing(models.Model):
    """That a person signed in in full on a phone, and may come back there by PIN. wrong: PINs that did not fit."""

    phone = models.ForeignKey(Phone, on_delete=models.CASCADE, related_name="standings")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="standings")
    began = models.DateTimeField(default=timezone.now)
    until = models.DateTimeField()
    wrong = models.PositiveSmallIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["phone", "person"], name="standing_once")]

    def __str__(self) -> str:
        return f"until {self.until:%Y-%m-%d %H:%M}"


class SignIn(models.Model):
    """A browser that somebody is signed in with. Its session names it; without this row the session is worth nothing.

    session: SHA-256 of the session's key, so that who reads this table can take nobody's place.
    told: the number of the last notice that was shown here.
    phone: where the browser is one that is known. standing: of a sign-in by PIN, what lets it stand.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="sign_ins")
    session = models.CharField(max_length=64, unique=True)
    began = models.DateTimeField(default=timezone.now)
    last_used = models.DateTimeField(default=timezone.now)
    proved = models.DateTimeField("last proved who it is", default=timezone.now)
    how = models.CharField("signed in by", max_length=40)
    address = models.GenericIPAddressField("from", null=True)
    browser = models.CharField(max_length=60)
    told = models.BigIntegerField(default=0)
    phone = models.ForeignKey(Phone, on_delete=models.SET_NULL, null=True, related_name="sign_ins")
    standing = models.ForeignKey(Standing, on_delete=models.CASCADE, null=True, related_name="+")

    class Meta:
        ordering = ["-last_used", "-id"]

    def __str__(self) -> str:
        return f"{self.browser} since {self.began:%Y-%m-%d %H:%M}"


class Passkey(models.Model):
    """A key pair of a person's device (WebAuthn, level 3). Here is its public half alone.

    credential, public_key, handle: as the device made them, base64url without padding.
    verified: the device asked who holds it (PIN, finger, face) when it was added: only such a key signs in alone.
    count: as the device last said; 0 where it keeps none. carried: the device's maker keeps copies.
    spent: SHA-256 of the challenge that it answered last, which counts once.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="passkeys")
    name = models.CharField(max_length=60)
    credential = models.CharField(max_length=1400, unique=True)
    public_key = models.TextField()
    handle = models.CharField(max_length=90)
    site = models.CharField("works at", max_length=255)
    transports = models.JSONField(default=list)
    verified = models.BooleanField()
    count = models.BigIntegerField(default=0)
    may_be_carried = models.BooleanField(default=False)
    carried = models.BooleanField(default=False)
    spent = models.CharField(max_length=64, blank=True)
    made = models.DateTimeField(default=timezone.now)
    last_used = models.DateTimeField(null=True)

    class Meta:
        ordering = ["made", "id"]

    def __str__(self) -> str:
        return self.name


class PaperCode(models.Model):
    """A code on paper that was not used yet; it begins with its number. hashed: as a password is."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    number = models.PositiveSmallIntegerField()
    hashed = models.CharField(max_length=128)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["person", "number"], name="paper_code_once")]

    def __str__(self) -> str:
        return f"code {self.number}"


class Notice(models.Model):
    """Something that a person is told on the next page of each of their sign-ins but the one that did it (`by`)."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    said = models.CharField(max_length=300)
    at = models.DateTimeField(default=timezone.now)
    by = models.BigIntegerField(null=True)
    seen = models.BooleanField(default=False)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return self.said


class WrongGuess(models.Model):
    """A wrong password or code that was looked at, whoever typed it and wherever: kept for a day."""

    username = models.CharField(max_length=150)
    at = models.DateTimeField(default=timezone.now)

    class Meta:
        indexes = [models.Index(fields=["username", "at"], name="wrong_guess_name_at")]

    def __str__(self) -> str:
        return f"{self.username} at {self.at:%Y-%m-%d %H:%M}"
