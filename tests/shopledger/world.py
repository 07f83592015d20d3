"""One small shop that has rows in every table that is evidence, made by the product's own verbs: two of each kind where
there can be two, so that one can be put in the other's place."""

import datetime as dt
import uuid
from decimal import Decimal

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from inventory.attachments.actions import Photo, attach, choose, withdraw
from inventory.buying import actions as buying
from inventory.containers import actions as stock
from inventory.containers.leak_checks import check_for_leaks
from inventory.containers.models import Container, Location, Weighing
from inventory.containers.write_off import NeedsYes
from inventory.counting import actions as counting
from inventory.counting import entering
from inventory.kept import actions as kept
from inventory.ledger.erasing import erase
from inventory.ledger.models import Substance, Voucher
from inventory.ledger.seals import seal
from inventory.machines import actions as machines
from inventory.machines.models import Machine
from inventory.orders import actions as orders
from inventory.orders.matching import Sort
from inventory.parties.actions import PaperSaid, keep_paper, save_party, supplier_called, withdraw_paper
from inventory.places.actions import give_place
from inventory.receiving.actions import Arrival, open_stock, receive
from inventory.scales import actions as scales
from inventory.shipping.actions import enter_their_weights, ship
from inventory.shop.clock import today
from inventory.shop.models import Shop
from inventory.supply.actions import set_reorder_point
from inventory.write_offs.actions import ask, refuse
from jobs.drafts.actions import change_job, enter_line, skip_step, start_job
from jobs.drafts.hands import add_hand, end_hand, hand_over
from jobs.leaks import actions as leak_events
from jobs.people.actions import add_certificate, add_person, change_person
from jobs.planning.static_pressure import gauge_pa
from jobs.planning.vacuum import absolute_pa
from jobs.signing.actions import correct_job, sign_job
from jobs.units import premises
from jobs.units.actions import add_customer, add_unit
from jobs.units.models import Customer, UnitKind
from jobs.units.premises import add_premises
from shopledger.inspectors.actions import end_access, issue_access
from shopledger.inspectors.models import InspectorAccess
from shopledger.logbook.actions import load
from shopledger.monthend.actions import leave_open
from shopledger.sealing.actions import issue
from tests.inventory.test_attachments import PDF, picture
from tests.kept import made, saved
from tests.stock import came, delivery

G = 1000
PASSWORD = "of nobody at all 17"
OWES = ["usage.csv", "usage.json"]
FILES = {
    "shop.csv": "name,address,timezone,rulebook,readability,capacity\nTest Shop,1 Test Street,UTC,generic,1 g,30 kg\n",
    "opening.csv": (
        "date,container,kind,substance,grade,net,tare,water_capacity,retest_due,location\n"
        "{0},OLD-1,can,R-134a,virgin,340 g,100 g,,,Store\n{0},OLD-2,can,R-134a,virgin,340 g,100 g,,,Store\n"
    ),
    "jobs.csv": (
        "job,date,technician,customer,unit,vin,substance,charge_min,charge_max\n{0},{0},lee,Old Times,OLD 1,,R-134a,,\n"
    ),
    "job_lines.csv": "job,action,container,scale,before,after,quantity,note\n{0},charge,OLD-1,,440 g,300 g,,by hand\n",
}


def build(folder):
    """folder: where the files of two logs are written."""
    for ago in (90, 80):
        _log(folder / str(ago), str(today() - dt.timedelta(ago)), f"{ago}")
    world = _World()
    world.shop()
    world.people()
    world.things()
    world.stock()
    first, second = world.job(), world.job()
    world.office()
    world.counts()
    world.seals()
    world.corrections(first, second)
    world.write_offs()
    world.ordered()
    world.invoices()
    world.papers()
    world.inspectors()
    return world


def _log(folder, day, name):
    folder.mkdir(parents=True)
    for file, text in FILES.items():
        text = text.format(day).replace("OLD", f"OLD{name}")
        (folder / file).write_text(text, encoding="utf-8")
    load(folder)


def _key():
    return str(uuid.uuid4())


class _World:
    """Days are counted back from today."""

    def __init__(self):
        self.today = today()

    def day(self, ago):
        return self.today - dt.timedelta(ago)

    def head(self, ago, by="oscar", **more):
        return {"day": self.day(ago), "by": by, "key": _key(), **more}

    def shop(self):
        figures = {"evacuation_minutes": 30, "hold_minutes": 10, "hold_most_micron": 900, "oil_months": 5}
        figures |= {"test_minutes": 20, "test_most_percent": 2, "cost_formula": "average"}
        own = {"retention_years": "9", "purity_least_percent": "99"}
        saved(Shop.objects.get(), altitude_m=320, currency="EUR", own_figures=own, **figures)

    def people(self):
        self.owner = add_person(by=None, username="olive", name="Olive Owner", role="owner", password=PASSWORD)
        more = {"by": self.owner, "password": PASSWORD}
        add_person(username="oscar", name="Oscar Office", role="office", **more)
        self.tess = add_person(username="tess", name="Tess Bay", role="technician", **more)
        saved(self.tess, email="tess@shop.example")
        self.theo = trainee = add_person(username="theo", name="Theo New", role="technician", mass_unit="oz", **more)
        change_person(trainee, by=self.owner, trainee_since=self.day(60))
        for number, expires in (("A-1", None), ("A-2", self.day(-300))):
            said = {"scheme": "Refrigerant handling", "number": number, "issuer": "Board", "issued": self.day(400)}
            certificate = add_certificate(
                by=self.owner, person=self.tess, expires=expires, note="seen", key=uuid.uuid4(), **said
            )
            self.attach(f"certificate:{certificate.pk}", "scan.pdf", PDF + number.encode(), "application/pdf")

    def attach(self, subject, name, body, type_, **more):
        upload = SimpleUploadedFile(name, body, type_)
        return attach(subject=subject, upload=upload, by="oscar", title=f"Of {subject}", key=uuid.uuid4(), **more)

    def things(self):
        for code, step in (("bench", G), ("floor", 5 * G)):
            plate = scales.Plate(step, 150_000 * G, 500)
            scale = scales.save_scale(code=code, plate=plate, checked_until=self.day(-20), usual=code == "bench")
            for ago, found in ((30, 5_003 * G), (20, 5_030 * G)):
                check = scales.CheckMade(
                    self.day(ago), 5_000 * G, found, 5_000 * G, self.day(-90), "M1 5 kg", "warmed up before"
                )
                scales.check_scale(scale=scale, check=check, by="oscar", key=uuid.uuid4())
        for name in ("Bay", "Van"):
            stock.add_location(name=name)
        customers = [
            add_customer(by=self.owner, name=name, phone="555 0100", address="2 Road", note="rings twice", key=_uuid())
            for name in ("Ada Example", "Bo Example")
        ]
        self.units = [
            add_unit(
                by=self.owner,
                key=_uuid(),
                customer=customer.name,
                name=f"Car {number}",
                plate=f"TST-{number}",
                vin=f"TESTVIN{number}",
                make="Quillon",
                model="Arbour",
                year=2018,
                refrigerant="R-134a",
                charge_min_mg=500 * G,
                charge_nominal_mg=520 * G,
                charge_max_mg=540 * G,
                label_confirmed=True,
                oil="PAG 46",
                oil_amount_ul=120 * G,
                ports="at the firewall",
                note="blue",
            )
            for number, customer in enumerate(customers)
        ]
        add_unit(
            by=self.owner,
            kind=UnitKind.STATIONARY,
            exactly="refrigeration",
            name="Cold room",
            sealed=True,
            dwelling=True,
        )
        self.rack(customers[0])

    def rack(self, customer):
        """A unit of which all is said that only rules ask, with premises, and what happened about its leaks."""
        places = [
            add_premises(customer, by=self.owner, name=name, address="9 Road", note="ring twice", key=_uuid())
            for name in ("Main street", "Harbour")
        ]
        for ago, method in ((80, "annualizing"), (70, "rolling")):
            more = {"reason": f"after {ago} days", "key": _uuid()}
            premises.set_method(places[0], by=self.owner, method=method, from_day=self.day(ago), **more)
        unit = add_unit(
            by=self.owner,
            kind=UnitKind.STATIONARY,
            exactly="process",
            use="ice-rink",
            customer=customer,
            premises=places[0],
            name="Rack",
            refrigerant="R-404A",
            designed_for="R-22",
            process_share_percent=60,
            process_shutdown=True,
            open_drive="yes",
            bound="no",
            military=True,
            below_minus_50=True,
            exemption_proof="Paper 7",
            installed_on=self.day(500),
            retired_on=self.day(1),
        )
        cold = add_unit(by=self.owner, kind=UnitKind.STATIONARY, name="Split", light_commercial="yes")
        for of, found in (
            (unit, premises.ChargeFound("range", None, 39_000 * G, 41_000 * G)),
            (cold, premises.ChargeFound("maker", 8_000 * G)),
        ):
            more = {"from_day": self.day(75), "reason": "as its papers say", "key": _uuid()}
            premises.set_full_charge(of, by=self.owner, found=found, **more)
        self.leaks(unit)

    def leaks(self, unit):
        at = dt.datetime.combine(self.day(58), dt.time(9), dt.UTC)
        by = {"by": self.owner, "person": self.tess}
        said = {"places": "the shaft", "method": "electronic", "note": "in the rain"}
        leak_events.add_leak_event(unit, kind="inspection", day=self.day(58), at=at, key=_uuid(), **said, **by)
        repair = {"evacuated": True, "parts": "seal", "person_said": "Ken Other", "certificate": "608-X"}
        leak_events.add_leak_event(unit, by=self.owner, kind="repair", day=self.day(57), key=_uuid(), **repair)
        for kind, more in (("initial-test", {}), ("follow-up-test", {"all_leaks": True})):
            test = {"passed": True, **said, **more}
            kept = leak_events.add_leak_event(unit, kind=kind, day=self.day(56), key=_uuid(), **test, **by)
        until = {"until": self.day(-30), "note": "by letter"}
        leak_events.add_leak_event(unit, by=self.owner, kind="extension-asked", day=self.day(55), key=_uuid())
        leak_events.add_leak_event(
            unit, by=self.owner, kind="extension-granted", day=self.day(54), key=_uuid(), **until
        )
        self.attach(f"leak-event:{kept.pk}", "test.pdf", PDF + b"t", "application/pdf")
        leak_events.void_leak_event(kept, by=self.owner, reason="of another unit")

    def stock(self):
        for supplier, address in (("Acme", "1 Gas Lane"), ("Bits", "2 Gas Lane")):
            supplier_called(supplier, address)
        self.reclaimer = save_party(name="Second Life", role="reclaimer", address="3 Gas Lane", registration="R-7")
        retest = {"water_capacity_mg": 12_000 * G, "retest_due": self.day(-700)}
        tank = came("MAC-1", "machine", 3_200 * G, grade="recycled", location="Bay", tare_mg=9_000 * G)
        recovery = [
            came(f"REC-{n}", "recovery", grade="recovered", location="Bay", tare_mg=6_100 * G, **retest) for n in "123"
        ]
        open_stock(lines=[tank, *recovery], note="Counted before", **self.head(70))
        cylinders = [
            came(f"CYL-{n}", net=9_000 * G, grade="virgin", tare_mg=6_000 * G, deposit_minor=5000, **retest)
            for n in "1234"
        ]
        cans = [came(f"CAN-{n}", "can", 340 * G, grade="virgin", tare_mg=100 * G, price_minor=1180) for n in range(8)]
        oil = [came(f"OIL-{n}", "oil", 250 * G, "PAG 46", price_minor=1450) for n in "12"]
        more = {"document": "A-77", "by": "oscar", "note": "in two boxes"}
        self.receipt = delivery(*cylinders, *cans, *oil, day=self.day(69), **more)
        self.attach(f"voucher:{self.receipt}", "paper.pdf", PDF, "application/pdf")
        delivery(came("LATE-1", "can", 227 * G, "R-1234yf", tare_mg=100 * G), day=self.day(68), supplier="Bits")
        for ago, leaks in ((50, True), (40, False)):
            check_for_leaks(
                codes=["CYL-1", "CYL-2"], day=self.day(ago), leaks=leaks, note="at the valve", by="oscar", key=_uuid()
            )
        for number in "12":
            machine = made(
                Machine,
                make="Quillon",
                model=f"R{number}",
                serial=f"S-{number}",
                made_on=self.day(900),
                standards="SAE J2788",
                refrigerants="R-134a",
                container=Container.objects.get(code="MAC-1") if number == "1" else None,
                note="squeaks",
                retired_on=self.day(1) if number == "2" else None,
            )
            check = machines.CheckMade(self.day(66), True, self.day(-300), "tight")
            machines.check_machine(machine=machine, check=check, by="oscar", key=_uuid())
        self.machine = Machine.objects.get(serial="S-1")
        gas = Substance.objects.get(code="R-134a")
        set_reorder_point(gas, None, 2_000 * G)
        set_reorder_point(gas, Location.objects.get(name="Store"), 1_000 * G)

    # -- the bay -----------------------------------------------------------------------------------------

    def job(self):
        """A job with all that can be said of one, signed for a reason."""
        number = 1 if hasattr(self, "second") else 0
        self.second = True
        job = start_job(
            unit=self.units[number], technician=self.tess, by=self.tess, day=self.day(60 - number), key=_uuid()
        )
        self.describe(job, dt.datetime.combine(job.day, dt.time(9), dt.UTC))
        skip_step(job.pk, by=self.tess, step="identify", reason="The label is plain")
        if number:
            skip_step(job.pk, by=self.tess, step="check", reason="It rains")
        enter = {"by": self.tess}
        recovered = {"before": 6_100 * G + number * 120 * G, "after": 6_220 * G + number * 120 * G, "scale": "floor"}
        lines = [
            ("recover", {"container": "REC-1", **recovered, "note": "slowly"}),
            ("oil-drain", {"quantity": 20 * G}),
            ("oil-add", {"container": "OIL-1", "quantity": 25 * G}),
            ("charge", {"container": f"CAN-{2 * number}", "before": 440 * G, "after": 104 * G, "scale": "bench"}),
            ("charge", {"container": f"CAN-{2 * number + 1}", "before": 440 * G, "after": 210 * G, "scale": "bench"}),
            ("line-loss", {"quantity": 4 * G, "note": "purged"}),
        ]
        for action, said in lines:
            enter_line(job.pk, key=_uuid(), action=action, **said, **enter)
        for chosen in (True, False):
            body = picture(size=(40 + number, 30 + chosen))
            self.attach(f"job:{job.pk}", "p.jpg", body, "image/jpeg", photo=Photo(chosen, "vacuum_said"))
        self.hands(job)
        return sign_job(job.pk, by=self.tess, reasons={"over": "Longer hoses"}, follows=0)

    def hands(self, job):
        """A colleague who went again, and a job that was handed over and came back; one line has two writers."""
        end_hand(job.pk, hand=add_hand(job.pk, person=self.theo, by=self.tess).pk, by=self.tess)
        hand_over(job.pk, to=self.theo, by=self.owner, note="The condenser is in")
        line = job.lines.filter(action="line-loss").get()
        enter_line(job.pk, by=self.owner, key=line.key, action="line-loss", quantity=line.quantity, note="purged once")
        hand_over(job.pk, to=self.tess, by=self.theo, note="Back to you")

    def describe(self, job, at):
        said = {"vacuum": "450 micron", "hold_start": "460 micron", "hold_end": "520 micron"}
        figures = {f"{name}_said": text for name, text in said.items()}
        figures |= {f"{name}_pa": absolute_pa(text, 320) for name, text in said.items()}
        for name, text, celsius in (("test_start", "20 bar", 24.5), ("test_end", "19.9 bar", 23.5)):
            figures |= {f"{name}_said": text, f"{name}_pa": gauge_pa(text, 320), f"{name}_c": celsius}
        change_job(
            job.pk,
            by=self.tess,
            step="repair",
            identified_as="R-134a",
            identified_how="identifier",
            purity_percent=99.4,
            complaint="Blows warm",
            system_opened=True,
            repairs="Condenser",
            parts=["condenser", "receiver-drier"],
            unpaid=True,
            recover_why="seasonal",
            charge_why="seasonal",
            same_leak=True,
            seasonal_statement="As much as was taken out in October",
            compressor_drained_ul=10 * G,
            accumulator_drained_ul=5 * G,
            leak_method="electronic",
            leak_detector="D-1",
            leak_result="found and repaired",
            test_medium="other",
            test_other="argon",
            test_started=at - dt.timedelta(minutes=40),
            test_ended=at - dt.timedelta(minutes=10),
            evacuation_c=20.5,
            evacuation_started=at,
            evacuation_ended=at + dt.timedelta(minutes=40),
            hold_started=at + dt.timedelta(minutes=41),
            hold_ended=at + dt.timedelta(minutes=55),
            ambient_c=21.5,
            vent_c=6.5,
            humidity_percent=40.0,
            static_said="5.9 bar",
            static_pa=691_325.0,
            low_side_said="2.1 bar",
            high_side_said="13 bar",
            note="Test drive done",
            **figures,
        )

    # -- the office --------------------------------------------------------------------------------------

    def office(self):
        stock.move(codes=["CAN-6", "CAN-7"], location="Van", **self.head(55))
        decant = {"source": "CYL-1", "into": "MAC-1", "scale": "floor", "before": 15_000 * G}
        self.decanted = stock.decant(**decant, after=14_500 * G, **self.head(54, "tess"))
        machines.recycle(code="REC-1", machine=self.machine, standard="SAE J2788", **self.head(53, "tess", note="dry"))
        stock.regrade(code="CYL-4", grade="reclaimed", note="as its paper says", **self.head(52))
        counting.correct_tare(code="CYL-2", tare_mg=6_010 * G, note="weighed empty", **self.head(51))
        counting.correct_tare(code="CYL-3", tare_mg=5_990 * G, note="stamped", **self.head(51))
        gone = {"purpose": "return", "party": supplier_called("Acme"), "containers_go": True, "document": "S-1"}
        sent = ship(parcels={"CYL-3": None}, note="all of it", **gone, **self.head(50))
        enter_their_weights(number=sent, weights={"CYL-3": 8_990 * G}, document="T-1", by="oscar")
        more = {"purpose": "reclaim", "party": self.reclaimer, "document": "S-2"}
        sent = ship(parcels={"CYL-4": 2_000 * G}, **more, **self.head(49))
        enter_their_weights(number=sent, weights={"CYL-4": 1_990 * G}, document="T-2", by="oscar")
        stock.retire(codes=["CAN-5"], residue_into="CYL-2", **self.head(48, note="dented"))
        self.kept()

    def kept(self):
        """A customer's own cylinder, one kept for them, one given back; one found, and one of which it is known."""
        give_place(name="Van", keeper="tess")
        ada = Customer.objects.get(name="Ada Example").code
        said = {"kind": "refillable", "substance": "R-134a", "grade": "recovered", "location": "Bay", "scale": "bench"}
        for code in ("OWN-1", "OWN-2"):
            brought = kept.Brought(**said, tare_mg=6_000 * G, gross_mg=9_000 * G, code=code)
            kept.take_in(owner=ada, brought=brought, **self.head(47, note="theirs"))
        kept.give_back(code="OWN-2", **self.head(46, note="to Ada"))
        kept.keep_for(code="REC-3", owner=ada, **self.head(47))
        for code in ("LOST-1", "LOST-2"):
            where = {"location": "Bay", "found_where": "behind the shed", "scale": "floor"}
            kept.find(kind="recovery", code=code, gross_mg=7_000 * G, **where, **self.head(47))
        known = kept.Identified("R-134a", 6_000 * G, "Identifier 7", purity="99")
        kept.identify(code="LOST-2", said=known, **self.head(46))

    def counts(self):
        store = Location.objects.get(name="Store")
        count = counting.start_count(location=store, day=self.day(45), scale=None, by="oscar", key=_uuid())
        for code, gross in (("CYL-1", 14_200 * G), ("CAN-4", 440 * G), ("OIL-1", 190 * G)):
            counting.enter(count_id=count.pk, code=code, gross=gross, by="oscar", sure=True)
        entering.give_reason(count_id=count.pk, code="CYL-1", reason="unrecorded", note="a charge")
        entering.give_reason(count_id=count.pk, code="OIL-1", reason="reading", note="dregs")
        counting.post_count(count_id=count.pk, by="oscar", note="After the holidays")
        made = counting.type_in(
            location=store, scale=None, readings={"CAN-4": 439 * G}, **self.head(44, note="by hand")
        )
        weighing = Weighing.objects.filter(voucher=made.voucher).exclude(difference=0).get()
        counting.explain(weighing_id=weighing.pk, reason="leaked", note="a gram", by="oscar")
        given_up = counting.start_count(location=store, day=self.day(43), scale=None, by="oscar", key=_uuid())
        counting.abandon(count_id=given_up.pk, by="oscar")

        for thing, why in (("CYL-2", "lent to the next bay"), ("MAC-1", "at its maker's")):
            leave_open(month=self.day(45), step="weigh", things=[thing], why=why, by="oscar")

    def seals(self):
        for ago in (65, 40):
            issue(seal(self.day(ago), "olive", OWES), "olive")

    def corrections(self, first, second):
        """A job put right, a delivery that never came, and a decant taken back beneath a later count."""
        new = correct_job(first.pk, by=self.tess, note="The last weight was misread")
        line = new.lines.filter(action="charge").last()
        said = {"container": line.container.code, "before": line.before, "after": line.after + 10 * G, "scale": "bench"}
        enter_line(new.pk, by=self.tess, key=line.key, action="charge", **said)
        sign_job(new.pk, by=self.tess)
        late = Container.objects.get(code="LATE-1")
        stock.take_back(late.arrival_id, by="oscar", note="of another shop", key=_key())
        stock.take_back(self.decanted, by="oscar", note="entered twice", key=_key())
        wrong = self.attach(f"voucher:{self.receipt}", "wrong.pdf", PDF + b"w", "application/pdf")
        withdraw(wrong.pk, by="oscar", why="of another delivery")
        picture_chosen = self.attach(
            f"job:{second.pk}", "q.jpg", picture(size=(50, 50)), "image/jpeg", photo=Photo(False)
        )
        choose(picture_chosen.pk, True)
        for name in ("Cy Gone", "Di Gone"):
            gone = add_customer(by=self.owner, name=name, phone="555 0199")
            erase("customer", gone.code, why="asked", by="olive", note="by letter")

    def inspectors(self):
        for name, ended in (("Ira Agency", False), ("Ivo Agency", True)):
            period = {"first": self.day(90), "last": self.day(1), "until": self.day(-5)}
            access, _ = issue_access(name=name, by=self.owner, **period)
            client = Client()
            client.force_login(access.person)
            client.get("/inspect/")
            client.get("/units/")
            if ended:
                end_access(access.pk, by=self.owner)
        assert InspectorAccess.objects.count() == 2

    def ordered(self):
        """Two orders, of each of which something came; a line of one was given up."""
        for supplier, ago in (("Acme", 75), ("Bits", 74)):
            of, one = supplier_called(supplier), Arrival("can", "R-134a", False, "virgin", 340 * G, 2, "Store")
            number = receive(
                lines=[one], supplier=of, document=f"D-{ago}", day=self.day(58), by="oscar", key=str(_uuid())
            )
            line = orders.Wanted("can", "R-134a", False, "virgin", 340 * G, 24, 980, self.day(60))
            oil = orders.Wanted("oil", "PAG 46", True, "", 250 * G, 6, None, self.day(59))
            head = orders.OrderHead(self.day(ago), f"B-{ago}", "by the back door")
            order = orders.place_order(supplier=of, head=head, lines=[line, oil], by="oscar", key=_uuid())
            orders.order_sent(code=order.code, on=self.day(ago - 1))
            orders.was_for(order=order, number=number)
            orders.was_not_for(order=order, number=number, why=f"not of {of.name}", by="oscar")
            orders.was_for(order=order, number=number)
            orders.give_up_line(pk=order.lines.last().pk, why=f"none at {of.name}", by="oscar")

    def papers(self):
        """Two declarations, one of which was withdrawn."""
        for number, supplier in enumerate(("Acme", "Bits")):
            days = (self.day(90), self.day(-90))
            said = PaperSaid("declaration", f"D-{number}", *days, f"Reclaim Hall {number}", "by post")
            kept = keep_paper(party=supplier_called(supplier), said=said, by="oscar", key=_uuid())
        withdraw_paper(pk=kept.pk, why="of another supplier")

    def invoices(self):
        """Two that were revised, one of which was void then; lines of goods, a deposit and a thing without a name."""
        can = Sort("can", "R-134a", "virgin", 340 * G)
        sent = Voucher.objects.filter(kind="shipment").first().number
        kept = None
        for number, kind in enumerate(("invoice", "credit")):
            lines = [
                buying.Billed("goods", 3, 1200 + number, can, codes=("CAN-1", "CAN-2")),
                buying.Billed("deposit", 1, 5000, codes=("CYL-1",)),
                buying.Billed("other", 1, 700, called=f"pallet {number}"),
            ]
            money = {"shipping_minor": 900, "tax_minor": 300, "tax_percent": Decimal("19.5"), "note": "by post"}
            credited = {"shipment": sent, "credits": kept} if number else {}
            more = {"sure": True, **credited, **money}
            said = buying.InvoiceSaid(supplier_called("Acme"), kind, f"I-{number}", self.day(60), lines, 9999, **more)
            kept = buying.enter_invoice(said=said, by="oscar", key=_uuid())
            again = buying.enter_invoice(said=said, by="oscar", key=_uuid(), revises=kept, why="a price was misread")
            if number:
                buying.declare_void(pk=again.pk, why="another shop's", by="oscar")

    def write_offs(self):
        """Two that asked for a second yes: one was refused, one waits."""
        for code in ("CAN-5", "CAN-6"):
            said = {
                "codes": [code],
                "residue_into": "",
                "day": today(),
                "by": "oscar",
                "key": str(_uuid()),
                "note": code,
            }
            kept = ask(NeedsYes({("R-134a", False): 340 * G}, "retire", said))
        refuse(pk=kept.pk, by="olive", answer="weigh it first")


def _uuid():
    return uuid.uuid4()
