"""The ledger: what a posting may and may not do, what the database itself refuses, what `verify` finds."""

import datetime as dt
import hashlib
import io
import json
import re

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import DatabaseError, connection, transaction
from django.db.models import F
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from inventory.ledger import actions, triggers
from inventory.ledger.accounts import AccountClass as A
from inventory.ledger.accounts import Spot, Transfer
from inventory.ledger.actions import Draft, post, writing
from inventory.ledger.canonical import genesis
from inventory.ledger.models import Account, ChainHead, Movement, Record, Seal, SealBalance, SealTotal, Voucher
from inventory.ledger.queries import balances_of, balances_through
from inventory.ledger.seals import seal
from inventory.ledger.verify import extra_checks, verify, verify_since_seal
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.text.refusal import Refused

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 3, 2)
CAN = Spot("R-134a", A.CONTAINER, "CAN-1", "Store", "virgin")
VAN = CAN._replace(location="Van")
SUPPLIER = Spot("R-134a", A.SUPPLIER, "Acme")
UNIT = Spot("R-134a", A.UNIT, "U-000001")
OTHER, OTHER_CAN = Spot("R-410A", A.SUPPLIER, "Acme"), Spot("R-410A", A.CONTAINER, "CAN-9", "Store", "virgin")


@pytest.fixture(autouse=True)
def ledger_alone(monkeypatch):
    """These tests post without containers' rows: the other rooms' checks have tests of their own."""
    monkeypatch.setattr("inventory.ledger.verify.extra_checks", [])


def receive(quantity=340_000, day=DAY, **more):
    return post(Draft("receipt", day, "oscar", (Transfer(SUPPLIER, CAN, quantity),), **more))


def charge(quantity, day=DAY, **more):
    return post(Draft("job", day, "tess", (Transfer(CAN, UNIT, quantity),), "tess", **more))


def balance(spot=CAN):
    return Account.objects.get(key=spot.key).balance


def test_other_rooms_prove_what_they_keep():
    ours = ["check_containers", "check_entries", "check_stories", "check_totals"]
    assert sorted(check.__name__ for check in extra_checks) == ours


def test_postings_are_numbered_chained_and_balanced():
    assert [receive(), charge(120_000), charge(20_000)] == [1, 2, 3]
    assert (balance(), balance(SUPPLIER), balance(UNIT)) == (200_000, -340_000, 140_000)
    head = ChainHead.objects.get()
    assert (head.number, head.digest) == (3, Voucher.objects.get(number=3).digest)
    assert verify().faults == []


def test_the_digest_can_be_made_again_without_this_program():
    """The canonical text of version 1, written out. It never changes; a new version would be added."""
    receive(key="k-1", document='INV "7"', note="Łódź\nline 2", detail={"b": 1, "a": [None, "x"]})
    voucher, ledger_id = Voucher.objects.get(), ChainHead.objects.get().ledger_id
    substance, ledger, rulebook, note = Record.objects.order_by("line")
    assert (substance.kind, substance.key, substance.salt) == ("substance", "R-134a", "")
    assert (ledger.kind, ledger.key, ledger.salt, ledger.body) == ("ledger", ledger_id, "", f'{{"id":"{ledger_id}"}}')
    assert (rulebook.kind, rulebook.key, rulebook.salt) == ("rulebook", Shop.current().rulebook, "")
    assert json.loads(rulebook.body)["sha256"] == sha256(json.loads(rulebook.body)["text"])
    assert (note.kind, note.key, note.body) == ("words", "entry:1", '{"note":"Łódź\\nline 2"}')
    assert re.fullmatch("[0-9a-f]{32}", note.salt), "what can be erased cannot be found again by trying"
    records = [
        f'["{one.kind}","{one.key}","{sha256(one.salt, one.body)}"]' for one in (substance, ledger, rulebook, note)
    ]
    text = (
        '[1,1,"2026-03-02","receipt","' + voucher.recorded_at + '","oscar","","INV \\"7\\"",null,"k-1",'
        '{"a":[null,"x"],"b":1},[[["R-134a","supplier","Acme","",""],["R-134a","container","CAN-1","Store","virgin"],'
        f"340000,0]],[{','.join(records)}]]"
    )
    assert voucher.digest == sha256(sha256("shopledger " + ledger_id), sha256(text))
    json.loads(text)
    charge(1000, detail={"x": 2}, key="k-2")
    second = Voucher.objects.get(number=2)
    text = (
        '[1,2,"2026-03-02","job","' + second.recorded_at + '","tess","tess","",null,"k-2",{"x":2},'
        '[[["R-134a","container","CAN-1","Store","virgin"],["R-134a","unit","U-000001","",""],1000,0]],[]]'
    )
    assert second.digest == sha256(voucher.digest, sha256(text)), "the link alone stands for what it says"


def sha256(*lines):
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()


def test_the_same_form_posts_once():
    assert receive(key="form-1") == receive(key="form-1") == 1
    assert (Voucher.objects.count(), balance()) == (1, 340_000)


def test_more_than_there_is_cannot_come_out():
    receive(340_000)
    with pytest.raises(Refused, match=r"CAN-1 holds 340 g; 340.001 g cannot come out") as refused:
        charge(340_001)
    assert refused.value.field == "quantity"
    assert (Voucher.objects.count(), balance()) == (1, 340_000)


def test_nothing_is_dated_back_below_an_earlier_level():
    receive(340_000, DAY)
    charge(300_000, DAY + dt.timedelta(5))
    receive(100_000, DAY + dt.timedelta(9))
    with pytest.raises(Refused, match="before what was recorded for 11 Mar 2026, CAN-1 held only 40 g") as refused:
        charge(41_000, DAY + dt.timedelta(6))
    assert refused.value.field == "day"
    assert charge(40_000, DAY + dt.timedelta(6)) == 4
    assert verify().faults == []


def test_what_was_taken_back_does_not_stand_from_the_day_of_the_reversal():
    receive()
    charge(20_000)
    with writing() as writer:
        writer.post(writer.reversal_of(2, day=DAY + dt.timedelta(2), recorded_by="oscar", note="wrong car"))

    def standing(through=None):
        return list(Voucher.objects.standing(through).order_by("number").values_list("number", flat=True))

    assert standing() == [1, 3]
    assert standing(DAY + dt.timedelta(1)) == [1, 2, 3] and standing(DAY + dt.timedelta(2)) == [1, 3]


def test_a_reversal_moves_everything_back_and_happens_once():
    receive()
    number = charge(120_000)
    with writing() as ledger:
        ledger.post(ledger.reversal_of(number, day=DAY, recorded_by="olive", note="wrong car"))
    assert (balance(), balance(UNIT)) == (340_000, 0)
    assert Movement.objects.get(voucher=3).reversal
    for again, said in (
        (number, "was reversed before, by voucher 3"),
        (3, "is itself a reversal"),
        (9, "no voucher 9"),
    ):
        with pytest.raises(Refused, match=said), writing() as ledger:
            ledger.post(ledger.reversal_of(again, day=DAY, recorded_by="olive", note="again"))
    with pytest.raises(Refused, match="date its reversal that day or later"), writing() as ledger:
        ledger.post(ledger.reversal_of(1, day=DAY - dt.timedelta(1), recorded_by="olive", note="x"))


@pytest.mark.parametrize("bad", ["a\0b", "bell\x07", "\ud800"])
def test_text_that_cannot_be_kept_is_refused(bad):
    with pytest.raises(Refused, match="control character"):
        receive(note=bad)
    assert Voucher.objects.count() == 0


def test_a_note_keeps_its_lines_as_browsers_send_them():
    receive(note="valve tight\r\ncap missing\rlabel torn")
    assert Voucher.objects.get().note == "valve tight\ncap missing\nlabel torn"
    assert verify().faults == []


@pytest.mark.parametrize("more", [{"document": "x" * 201}, {"recorded_by": "o" * 151}, {"done_by": "o" * 151}])
def test_text_that_has_no_room_is_refused_on_every_database(more):
    draft = {"kind": "receipt", "day": DAY, "recorded_by": "olive", "transfers": (Transfer(SUPPLIER, CAN, 1),)}
    with pytest.raises(Refused, match="characters long; (150|200) are the most") as refused:
        post(Draft(**(draft | more)))
    assert refused.value.field == next(iter(more))
    assert Voucher.objects.count() == 0


@pytest.mark.parametrize("name", ["a\ud800b", "a\0b", "x" * 301])
def test_a_name_that_cannot_be_kept_is_refused(name):
    with pytest.raises(Refused, match="cannot be kept|are the most"):
        post(Draft("receipt", DAY, "olive", (Transfer(SUPPLIER._replace(name=name), CAN, 1),)))
    assert Voucher.objects.count() == 0


def test_half_a_character_in_the_detail_is_refused():
    with pytest.raises(Refused, match="half a character"):
        post(Draft("receipt", DAY, "olive", (Transfer(SUPPLIER, CAN, 1),), detail={"said": "a\ud800"}))


@pytest.mark.parametrize("quantity", [0, -1, 1.5, "7", True])
def test_a_quantity_is_a_whole_number_above_zero(quantity):
    with pytest.raises(ValueError, match="whole number above zero"):
        receive(quantity)


def test_a_clock_set_back_does_not_turn_the_chain_back(monkeypatch):
    receive()
    first = Voucher.objects.get().recorded_at
    early = dt.datetime(2001, 1, 1, tzinfo=dt.UTC)
    monkeypatch.setattr(actions.timezone, "now", lambda: early)
    charge(1000)
    assert Voucher.objects.get(number=2).recorded_at == first


def test_balances_of_a_day_are_sums_of_its_movements():
    receive(340_000, DAY)
    charge(40_000, DAY + dt.timedelta(2))
    account = Account.objects.get(key=CAN.key)
    assert balances_of([account.pk], DAY + dt.timedelta(1)) == {account.pk: 340_000}
    assert dict(balances_through(DAY + dt.timedelta(2)))[account.id] == 300_000


# -- seals ---------------------------------------------------------------------------------------


def test_a_sealed_day_is_closed_in_the_program_and_in_the_database():
    number = receive()
    made = seal(DAY, "olive")
    assert (made.number, made.digest) == (number, Voucher.objects.get(number=number).digest)
    with pytest.raises(Refused, match="All days up to 2 Mar 2026 are sealed; date it 3 Mar 2026 or later"):
        charge(1000, DAY)
    values = [9, DAY.isoformat(), "job", "x", "x", "", "", "", None, "k", "{}", "d"]
    with pytest.raises(DatabaseError, match="sealed"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO inventory_voucher (number, day, kind, recorded_at, recorded_by, done_by, document, note, "
            "reverses_id, key, detail, digest) VALUES (%s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s, %s)",
            values,
        )
    assert charge(1000, DAY + dt.timedelta(1)) == number + 2, "the seal is an entry itself"
    closing = Voucher.objects.get(number=number + 1)
    assert (closing.kind, closing.day) == ("seal", today())
    assert json.loads(closing.detail) == {"through": DAY.isoformat(), "number": number, "digest": made.digest}
    assert verify().faults == []


def test_a_seal_needs_days_that_have_ended_and_moves_forward():
    receive()
    with pytest.raises(Refused, match="has not ended"):
        seal(dt.date(2999, 1, 1), "olive")
    seal(DAY, "olive")
    with pytest.raises(Refused, match="sealed already"):
        seal(DAY, "olive")


def test_the_seal_command(capsys):
    receive()
    call_command("seal", "--through", "2026-03-02")
    assert "Sealed all days up to and including 2026-03-02, at voucher 1" in capsys.readouterr().out
    with pytest.raises(CommandError) as refused:
        call_command("seal", "--through", "2026-03-02")
    assert refused.value.returncode == 1


# -- written once --------------------------------------------------------------------------------


@pytest.fixture
def everything():
    receive()
    charge(1000)
    seal(DAY, "olive")


MODELS = (Voucher, Movement, Record, Seal, SealBalance, SealTotal)
COUNTED = {"quantity", "balance", "number", "line"}


@pytest.mark.parametrize("model", MODELS)
def test_no_row_is_changed_or_deleted_by_any_way(everything, model):
    row = model.objects.order_by("-pk").first()
    number = next(f.attname for f in model._meta.concrete_fields if f.attname in COUNTED)
    table, pk = model._meta.db_table, model._meta.pk.column
    ways = [
        lambda: row.save(force_update=True),
        lambda: model.objects.filter(pk=row.pk).update(**{number: F(number) + 1}),
        lambda: model.objects.bulk_update([row], [number] if number != pk else ["digest"]),
        lambda: model.objects.filter(pk=row.pk)._raw_delete(model.objects.db),
        lambda: raw(f"UPDATE {table} SET {number} = {number} WHERE {pk} = %s", row.pk),
        lambda: raw(f"DELETE FROM {table} WHERE {pk} = %s", row.pk),
    ]
    columns = ", ".join(field.column for field in model._meta.concrete_fields)
    if connection.vendor == "sqlite":
        ways.append(lambda: raw(f"INSERT OR REPLACE INTO {table} ({columns}) SELECT {columns} FROM {table}"))
    else:
        raw("SET CONSTRAINTS ALL IMMEDIATE")  # nothing may be pending where a table is emptied
        ways.append(lambda: raw(f"TRUNCATE {table} CASCADE"))
    for way in ways:
        with pytest.raises(DatabaseError, match="written once|that day is sealed"), transaction.atomic():
            way()
    assert verify().faults == []


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL has no REPLACE")
@pytest.mark.parametrize("table", ["inventory_seal", "inventory_sealbalance", "inventory_sealtotal"])
def test_no_row_takes_the_place_of_another_under_a_new_id(everything, table):
    """SQLite's REPLACE deletes whatever stands in a new row's way, by any unique index."""
    with connection.cursor() as cursor:
        columns = [c.name for c in connection.introspection.get_table_description(cursor, table)]
    values = ", ".join("id + 1000" if name == "id" else name for name in columns)
    with pytest.raises(DatabaseError, match="written once"), transaction.atomic():
        raw(f"INSERT OR REPLACE INTO {table} ({', '.join(columns)}) SELECT {values} FROM {table}")


def raw(sql, *values):
    with connection.cursor() as cursor:
        cursor.execute(sql, values)


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL's columns are integers by themselves")
@pytest.mark.parametrize("quantity", [1.5, "abc"])
def test_the_database_takes_whole_quantities_alone(everything, quantity):
    columns = "voucher_id, line, day, substance_id, source_id, target_id, source_class, target_class, reversal"
    with pytest.raises(DatabaseError, match="whole number"), transaction.atomic():
        raw(
            f"INSERT INTO inventory_movement ({columns}, quantity) SELECT voucher_id, 9, '2026-04-01', substance_id, "
            "source_id, target_id, source_class, target_class, reversal, %s FROM inventory_movement LIMIT 1",
            quantity,
        )


def test_the_database_keeps_containers_at_zero_or_above(everything):
    with pytest.raises(DatabaseError, match="account_container_not_below_zero"), transaction.atomic():
        Account.objects.filter(key=CAN.key).update(balance=-1)


def test_a_lost_trigger_is_named_and_migrate_puts_it_back():
    from inventory.apps import triggers_stand

    name = sorted(triggers.wanted(connection))[0]
    on = f" ON {triggers.table_of(name)}" if connection.vendor == "postgresql" else ""
    raw(f"DROP TRIGGER {name}{on}")
    assert [error.msg for error in triggers_stand(None, ["default"])] == [f"The database has lost its trigger {name}."]
    assert name in " ".join(message for _, message in verify().faults)
    call_command("migrate", verbosity=0)
    assert triggers_stand(None, ["default"]) == []


# -- tampering -----------------------------------------------------------------------------------


def tamper(*statements):
    triggers.drop(connection)
    for statement in statements:
        raw(statement)
    triggers.install(connection)


TAMPERINGS = {
    "a quantity": ["UPDATE inventory_movement SET quantity = quantity + 1 WHERE voucher_id = 2"],
    "a balanced pair": [
        "UPDATE inventory_movement SET quantity = quantity + 1 WHERE voucher_id = 2",
        "UPDATE inventory_movement SET quantity = quantity - 1 WHERE voucher_id = 3",
    ],
    "a removed voucher": [
        "DELETE FROM inventory_movement WHERE voucher_id = 2",
        "DELETE FROM inventory_voucher WHERE number = 2",
    ],
    "a repeated day": ["UPDATE inventory_movement SET day = '2026-04-01' WHERE voucher_id = 2"],
    # What kind of movement it is stands in three repeated columns.
    "a repeated kind, where it went": ["UPDATE inventory_movement SET target_class = 7 WHERE voucher_id = 2"],
    "a repeated kind, where it came from": ["UPDATE inventory_movement SET source_class = 7 WHERE voucher_id = 2"],
    "a repeated kind, a reversal": ["UPDATE inventory_movement SET reversal = NOT reversal WHERE voucher_id = 2"],
    "a repeated substance": [
        "UPDATE inventory_movement SET substance_id = (SELECT MAX(id) FROM inventory_substance) WHERE voucher_id = 2"
    ],
    "a voucher's date": ["UPDATE inventory_voucher SET day = '2026-04-01' WHERE number = 2"],
    "a note": ["UPDATE inventory_voucher SET note = 'other' WHERE number = 2"],
    "a movement added to a voucher": [
        "INSERT INTO inventory_movement (voucher_id, line, day, substance_id, source_id, target_id, source_class, "
        "target_class, reversal, quantity) SELECT voucher_id, 5, day, substance_id, source_id, target_id, "
        "source_class, target_class, reversal, quantity FROM inventory_movement WHERE voucher_id = 2"
    ],
    "a running balance": ["UPDATE inventory_account SET balance = balance + 1"],
    "an account's name": ["UPDATE inventory_account SET location = 'Moon' WHERE location = 'Store'"],
    "a seal's balance": ["UPDATE inventory_sealbalance SET balance = balance + 1"],
    "a seal's totals": ["UPDATE inventory_sealtotal SET quantity = quantity + 1"],
    "the head": ["UPDATE inventory_chainhead SET number = number + 1"],
}


@pytest.mark.parametrize("kind", TAMPERINGS)
def test_verify_finds_what_was_changed_behind_its_back(kind):
    receive()
    charge(1000, DAY)
    charge(2000, DAY + dt.timedelta(1))
    post(Draft("receipt", DAY + dt.timedelta(1), "oscar", (Transfer(OTHER, OTHER_CAN, 1000),)))
    seal(DAY, "olive")
    assert verify().holds
    tamper(*TAMPERINGS[kind])
    proof = verify()
    assert not proof.holds
    if any("= 2" in statement for statement in TAMPERINGS[kind]):
        assert proof.first_wrong == 2


ORPHANS = {
    "a movement whose voucher was removed": (
        "DELETE FROM inventory_voucher WHERE number = 2",
        "1 movements belong to voucher 2, which is not there",
    ),
    "a movement of a voucher that never was": (
        "INSERT INTO inventory_movement (voucher_id, line, day, substance_id, source_id, target_id, source_class, "
        "target_class, reversal, quantity) SELECT 99, 0, day, substance_id, source_id, target_id, "
        "source_class, target_class, reversal, quantity FROM inventory_movement WHERE voucher_id = 2",
        "1 movements belong to voucher 99, which is not there",
    ),
    "a movement of an account that is not there": (
        "UPDATE inventory_movement SET target_id = 987654 WHERE voucher_id = 2",
        "A movement of voucher 2 names account 987654, which is not there",
    ),
}


@pytest.mark.parametrize("kind", ORPHANS)
def test_verify_finds_what_lost_what_it_belongs_to(kind):
    receive()
    charge(1000)
    statement, said = ORPHANS[kind]
    with transaction.atomic():  # foreign keys are looked at when a transaction ends; this one never does
        tamper(statement)
        assert said in " ".join(message for _, message in verify().faults)
        transaction.set_rollback(True)
    assert verify().holds


def test_a_tail_cut_off_shows_by_a_head_kept_elsewhere():
    receive()
    charge(1000)
    kept = ChainHead.objects.get().digest
    first, recorded_at = Voucher.objects.values_list("digest", "recorded_at").get(number=1)
    tamper(
        "DELETE FROM inventory_movement WHERE voucher_id = 2",
        "DELETE FROM inventory_voucher WHERE number = 2",
        f"UPDATE inventory_chainhead SET number = 1, digest = '{first}', recorded_at = '{recorded_at}'",
        "UPDATE inventory_account SET balance = balance + 1000 WHERE cls = 1",
        "UPDATE inventory_account SET balance = 0 WHERE cls = 4",
    )
    assert verify().holds
    assert not verify(kept).holds
    assert verify(first).holds


def test_the_verify_command_names_the_voucher_and_ends_with_1(capsys):
    receive()
    charge(1000)
    call_command("verify")
    assert "The ledger holds." in capsys.readouterr().out
    tamper("UPDATE inventory_voucher SET note = 'other' WHERE number = 2")
    with pytest.raises(CommandError, match="The first voucher that is wrong is 2") as refused:
        call_command("verify")
    assert refused.value.returncode == 1
    out = io.StringIO()
    with pytest.raises(CommandError):
        call_command("verify", "--as-json", stdout=out)
    assert json.loads(out.getvalue())["first_wrong"] == 2


# -- against a dictionary ------------------------------------------------------------------------

SPOTS = [CAN, VAN, CAN._replace(name="CAN-2"), SUPPLIER, UNIT]


class AgainstADictionary(RuleBasedStateMachine):
    """Whatever is posted, reversed and read: the ledger says what a dictionary says."""

    def __init__(self):
        super().__init__()
        self.model: dict[Spot, dict[int, int]] = {spot: {} for spot in SPOTS}
        self.posted: dict[int, tuple[int, tuple]] = {}
        self.block = transaction.atomic()
        self.block.__enter__()

    def teardown(self):
        assert verify().faults == []
        transaction.set_rollback(True)
        self.block.__exit__(None, None, None)

    def level(self, spot, day):
        return sum(change for d, change in self.model[spot].items() if d <= day)

    def fits(self, changes, day):
        return all(
            min(self.level(spot, d) for d in {day, *self.model[spot], 99} if d >= day) + change >= 0
            for spot, change in changes.items()
            if change < 0 and spot.cls == A.CONTAINER
        )

    def book(self, day, transfers):
        changes: dict[Spot, int] = {}
        for source, target, quantity in transfers:
            changes[source] = changes.get(source, 0) - quantity
            changes[target] = changes.get(target, 0) + quantity
        return changes

    def apply(self, changes, day):
        for spot, change in changes.items():
            self.model[spot][day] = self.model[spot].get(day, 0) + change

    def attempt(self, act, changes, day):
        try:
            with transaction.atomic():
                number = act()
        except Refused:
            assert not self.fits(changes, day)
            return None
        assert self.fits(changes, day)
        self.apply(changes, day)
        return number

    @rule(
        day=st.integers(0, 9),
        moves=st.lists(
            st.tuples(st.sampled_from(SPOTS), st.sampled_from(SPOTS), st.integers(1, 50)).filter(
                lambda move: move[0] != move[1]
            ),
            min_size=1,
            max_size=3,
        ),
    )
    def post(self, day, moves):
        draft = Draft("move", DAY + dt.timedelta(day), "x", tuple(Transfer(*move) for move in moves))
        number = self.attempt(lambda: post(draft), self.book(day, moves), day)
        if number:
            assert number == Voucher.objects.count()
            self.posted[number] = (day, tuple(moves))

    @rule(pick=st.integers(0, 30), later=st.integers(0, 3))
    def reverse(self, pick, later):
        if not self.posted:
            return
        number = sorted(self.posted)[pick % len(self.posted)]
        day, moves = self.posted[number]
        back = [(target, source, quantity) for source, target, quantity in moves]

        def act():
            with writing() as ledger:
                return ledger.post(
                    ledger.reversal_of(number, day=DAY + dt.timedelta(day + later), recorded_by="x", note="x")
                )

        if self.attempt(act, self.book(day, back), day + later):
            del self.posted[number]

    @invariant()
    def balances_agree(self):
        for spot in SPOTS:
            account = Account.objects.filter(key=spot.key).first()
            assert (account.balance if account else 0) == self.level(spot, 99)
            if account:
                assert balances_of([account.pk], DAY + dt.timedelta(4)) == {account.pk: self.level(spot, 4)}


def test_the_ledger_agrees_with_a_dictionary():
    run_state_machine_as_test(
        AgainstADictionary,
        settings=settings(
            max_examples=12,
            stateful_step_count=14,
            deadline=None,
            suppress_health_check=list(HealthCheck),
            phases=(Phase.explicit, Phase.reuse, Phase.generate),
        ),
    )


# -- the proof since the last seal --------------------------------------------------------------------------


SINCE = {  # what it must find: all that was posted after the seal, and the balances of now
    "a quantity after it": ["UPDATE inventory_movement SET quantity = quantity + 1 WHERE voucher_id = NUMBER"],
    "a voucher's day after it": ["UPDATE inventory_voucher SET day = '2026-03-09' WHERE number = NUMBER"],
    "a removed voucher after it": [
        "DELETE FROM inventory_movement WHERE voucher_id = NUMBER",
        "DELETE FROM inventory_voucher WHERE number = NUMBER",
    ],
    "a running balance": ["UPDATE inventory_account SET balance = balance + 1 WHERE cls = 1"],
    "the seal's digest": ["UPDATE inventory_seal SET digest = 'x'"],
    "the seal's balance": ["UPDATE inventory_sealbalance SET balance = balance + 1"],
    "the head": ["UPDATE inventory_chainhead SET number = number + 1"],
}


@pytest.mark.parametrize("kind", SINCE)
def test_the_proof_since_the_seal_finds_what_was_changed_after_it(kind):
    receive()
    charge(1000, DAY)
    seal(DAY, "olive")
    number = charge(2000, DAY + dt.timedelta(1))
    proof = verify_since_seal()
    assert proof.holds and (proof.vouchers, proof.number) == (2, number), "the seal's entry and what came after"
    assert proof.head == ChainHead.objects.get().digest
    tamper(*(statement.replace("NUMBER", str(number)) for statement in SINCE[kind]))
    assert not verify_since_seal().holds


def test_the_proof_since_the_seal_knows_older_digests_and_misses_none():
    receive()
    older = ChainHead.objects.get().digest
    charge(1000, DAY)
    seal(DAY, "olive")
    charge(2000, DAY + dt.timedelta(1))
    newer = ChainHead.objects.get().digest
    assert verify_since_seal(older).holds and verify_since_seal(newer).holds and verify(older).holds
    assert not verify_since_seal("a" * 64).holds


def test_without_a_seal_it_is_the_complete_proof():
    receive()
    charge(1000)
    assert verify_since_seal().vouchers == verify().vouchers == 2
    tamper("UPDATE inventory_movement SET quantity = quantity + 1 WHERE voucher_id = 1")
    assert not verify_since_seal().holds


def test_a_container_below_zero_after_the_seal_is_found():
    receive()
    seal(DAY, "olive")
    number = charge(1000, DAY + dt.timedelta(1))
    receive(day=DAY + dt.timedelta(2))
    assert verify_since_seal().holds
    tamper(
        f"UPDATE inventory_movement SET quantity = 500000 WHERE voucher_id = {number}",
        "UPDATE inventory_account SET balance = balance - 499000 WHERE cls = 1",
        "UPDATE inventory_account SET balance = balance + 499000 WHERE cls = 4",
    )
    assert any("stands at" in message for _, message in verify_since_seal().faults)


def test_balances_of_some_accounts_on_a_day_are_one_statement(django_assert_num_queries):
    receive()
    charge(1000, DAY)
    can, unit = (Account.objects.get(key=spot.key).pk for spot in (CAN, UNIT))
    later = DAY + dt.timedelta(2)
    charge(2000, later)
    assert balances_of([can, unit], DAY) == {can: 339_000, unit: 1000}
    assert balances_of([can], DAY - dt.timedelta(1)) == {can: 0} and balances_of([], DAY) == {}
    seal(DAY, "olive")
    with django_assert_num_queries(1):
        assert balances_of([can, unit], later) == {can: 337_000, unit: 3000}
    assert balances_of([can, unit], DAY) == {can: 339_000, unit: 1000}


def test_whose_ledger_it_is_stands_in_its_first_entry_in_its_genesis_and_in_its_head():
    receive()
    receive()
    head, first = ChainHead.objects.get(), Voucher.objects.get(number=1)
    stated = first.records.get(kind="ledger")
    assert (stated.key, json.loads(stated.body)) == (head.ledger_id, {"id": head.ledger_id})
    assert not Record.objects.filter(kind="ledger").exclude(voucher=1).exists()
    assert genesis(head.ledger_id) == hashlib.sha256(f"shopledger {head.ledger_id}".encode()).hexdigest()


def test_another_ledger_than_the_one_that_was_meant_takes_nothing():
    token = actions.meant.set("another")
    try:
        with pytest.raises(actions.OtherLedger, match="another was meant"):
            receive()
    finally:
        actions.meant.reset(token)
    assert not Voucher.objects.exists()
    token = actions.meant.set(ChainHead.objects.get().ledger_id)
    try:
        assert receive() == 1
    finally:
        actions.meant.reset(token)
