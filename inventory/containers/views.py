"""Pages about stock: the list, a container's life, and what is done to containers."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from inventory.codes.queries import names_of
from inventory.codes.wording import with_code
from inventory.containers import actions, queries
from inventory.containers.filled import Fill
from inventory.containers.forms import (
    DecantForm,
    MoveForm,
    RegradeForm,
    RelabelForm,
    RetireForm,
    WeighForm,
    locations,
)
from inventory.containers.fullness import Fullness
from inventory.containers.heel import Residue, residue
from inventory.containers.holdings import Reading
from inventory.containers.keepers import PlaceWords
from inventory.containers.labels import Label, sheet, single
from inventory.containers.leak_checks import check_of, with_last_check
from inventory.containers.models import Container
from inventory.containers.oil_age import is_too_old
from inventory.containers.retiring import will_retire
from inventory.containers.rows import MARKED
from inventory.containers.safe_fill import too_weak
from inventory.containers.tables import ContainerFilter, ContainerTable
from inventory.containers.write_off import NeedsYes
from inventory.ledger.actions import rehearsing
from inventory.ledger.snapshot import one_moment
from inventory.measures.money import show_money
from inventory.measures.pressure import show_pressure
from inventory.measures.quantity import show
from inventory.paper.chart import NARROW, WIDE, step_line, svg
from inventory.reference.rule import System
from inventory.reference.transport import entry_of
from inventory.shop.access import everybody, office
from inventory.shop.acting import act
from inventory.shop.clock import today
from inventory.shop.forms import add_refused
from inventory.shop.lists import export, paged
from inventory.shop.once import page_of
from inventory.text.refusal import Refused
from inventory.verdicts.container_label import container_label
from inventory.verdicts.retested import retested


def container_or_404(code: str) -> Container:
    return get_object_or_404(queries.containers(), code=code)


OF_THE_TABLE = {"codes", "all", "page", "sort", "columns", "back"}  # what a list's address says beside its filter


@everybody
@one_moment()
def stock(request: HttpRequest) -> HttpResponse:
    found = queries.containers().filter(void=False)
    if request.GET.get("state") != "retired":
        found = found.filter(retired_on=None)
    listed = ContainerFilter(request.GET, queryset=found)
    may = request.user.role in {"office", "owner"}
    rows = listed.qs if listed.is_valid() else found
    fullness = Fullness(request.shop.rules, today())
    table = ContainerTable(rows, person=request.user, fullness=fullness, exclude=() if may else ("pick",))
    answer = export(request, table, "stock")
    if answer is not None:
        return answer
    filtered = [(name, value) for name, value in request.GET.items() if name not in OF_THE_TABLE]
    said = {"table": paged(request, table, 50, "stock"), "filter": listed, "on_hand": queries.on_hand()}
    narrowed = listed.is_valid() and listed.form.has_changed()
    said |= {"totals": queries.totals_of(listed.qs) if narrowed else [], "may": may, "filtered": filtered}
    said |= _kept_apart(table.places)
    return render(request, "inventory/stock.html", said)


APART = 6  # rows shown of what is no stock


def _kept_apart(words: PlaceWords) -> dict[str, object]:
    """What stands here and is no stock: of customers, and not known yet."""
    kept, held = queries.kept_named(queries.kept_rows()[: APART + 1]), list(queries.held_until_known()[: APART + 1])
    now = today()
    rows = [{"container": one, "place": words.of(one.location), "days": (now - one.arrived_on).days} for one in held]
    return {"kept": kept[:APART], "held": rows[:APART], "more_kept": len(kept) > APART, "more_held": len(held) > APART}


def _owner(shown: Container) -> dict[str, object]:
    """Whose gas it is for, in words, and where that customer stands."""
    names = names_of([shown.kept_for]) if shown.kept_for else {}
    page = page_of(f"customer {shown.kept_for}") if shown.kept_for else ""
    keepable = shown.traits.refillable and not (shown.content or shown.unknown or shown.retired_on)
    return {"owner": with_code(shown.kept_for, names), "owner_page": page, "may_keep": keepable}


@everybody
def container(request: HttpRequest, code: str) -> HttpResponse:
    shown = get_object_or_404(with_last_check(queries.containers()), code=code)
    rules = request.shop.rules.safe_fill(shown.kind, today())
    gas = shown.substance.code if shown.substance and not shown.is_oil else ""
    fill = Fill(shown.cylinder, gas, shown.content, rules) if gas else None
    return render(
        request,
        "inventory/container.html",
        {
            "container": shown,
            "place": PlaceWords().of(shown.location),
            "retest": retested(request.shop.rules, shown.kind, shown.retest_due, today()),
            "fill": fill.verdict(lambda milligrams: show(milligrams, request.user.mass_unit)) if fill else None,
            "gas": System(None, shown.substance.code if shown.substance else ""),
            "labels": container_label(request.shop.rules, queries.label_of(shown), today()),
            "test_pressure": show_pressure(shown.test_pressure_kpa) if shown.test_pressure_kpa else "",
            **_travel(shown),
            **_owner(shown),
            "waits": (today() - shown.arrived_on).days,
            "weak": too_weak(shown.cylinder, gas, rules) if gas else "",
            "life": queries.life_of(shown),
            "running": queries.running_content(code),
            "full": None if shown.retired_on else Fullness(request.shop.rules, today()).picture(shown),
            "expired": shown.is_oil and is_too_old(shown.opened_on, request.shop.oil_months, today()),
            "deposit": show_money(shown.deposit_minor, request.shop.currency) if shown.deposit_minor else "",
            "check": check_of(shown, request.shop.rules, today()) if shown.content and not shown.retired_on else None,
            "may": request.user.role in {"office", "owner"} and not shown.retired_on,
        },
    )


def _travel(shown: Container) -> dict[str, object]:
    """How a container travels with what is in it, as the dangerous-goods list has it."""
    found = entry_of(shown.substance.code, shown.grade, shown.kind) if shown.substance else None
    if found is None or not found.is_dangerous:
        return {"entry": found, "travels": "no dangerous good of class 2: a liquid"}
    travels = found.description(empty=not shown.content)
    return {"entry": found, "travels": travels, "small_load": found.small_load_kg()}


MOST = 500  # containers that one action takes


@everybody
def container_chart(request: HttpRequest, code: str) -> HttpResponse:
    """What it held over time, as a picture."""
    shown = container_or_404(code)
    points = [(day, level / 1000) for day, level in queries.running_content(code)]
    if points:  # the line goes on to today, or to where it left
        points.append((max(points[-1][0], shown.retired_on or today()), points[-1][1]))
    width = NARROW if request.GET.get("narrow") else WIDE
    picture = svg(step_line(points, "mL" if shown.is_oil else "g", width))
    return HttpResponse(picture, content_type="image/svg+xml")


def chosen_codes(request: HttpRequest) -> list[str]:
    """The containers that were ticked; or all that the list's filters match, where that box was ticked."""
    sent = request.POST if request.method == "POST" else request.GET
    codes = [code for code in dict.fromkeys(sent.getlist("codes")) if code]
    if request.method == "GET" and request.GET.get("all"):
        listed = ContainerFilter(request.GET, queryset=queries.in_stock())
        codes = list(listed.qs.order_by("code").values_list("code", flat=True)[: MOST + 1]) if listed.is_valid() else []
    if len(codes) > MOST:
        raise Refused(f"More than {MOST} containers at once are too many to look over; filter the list further.")
    return codes


@office
def move(request: HttpRequest) -> HttpResponse:
    codes = chosen_codes(request)
    sent = request.method == "POST"
    form = MoveForm(request.POST if sent else None)

    def do(data: dict) -> None:
        actions.move(codes=codes, location=data["to_location"], **form.head(request.user.username))

    return act(
        request,
        form,
        do,
        heading="Move containers",
        back=reverse("stock"),
        button="Move",
        intro=", ".join(codes) or "No container is chosen; tick some in the list of stock first.",
        done=_moved(codes, request.POST.get("to_location", "").strip()),
        lists={"locations": locations()},
        hidden=[("codes", code) for code in codes],
    )


def _moved(codes: list[str], to: str) -> str:
    """What a move comes to, said before it is made: those that stand there already stay."""
    there = list(queries.containers().filter(code__in=codes, location__name=to).order_by("code"))
    moved = len(codes) - len(there)
    if not there:
        return f"{moved} moved to {to}."
    named = ", ".join(one.code for one in there[:5]) + (" and others" if len(there) > 5 else "")
    return f"{f'{moved} moved to {to}.' if moved else 'Nothing moved.'} {named} stood at {to} already."


@office
def retire(request: HttpRequest) -> HttpResponse:
    """First what will happen, with figures, where the page asks for that; then it is done."""
    codes = chosen_codes(request)
    asks = queries.proof_asked_of(codes, request.shop.rules, today())
    form = RetireForm(request.POST if request.method == "POST" else None, asks=asks)
    will: list[str] = []

    def do(data: dict) -> None:
        said = {"codes": codes, "residue_into": data["residue_into"], **form.proof()}
        actions.retire(**said, **form.head(request.user.username))

    if "ask" in request.POST and form.is_valid():
        try:
            with rehearsing():  # what would be refused is refused before anything is asked
                do(form.cleaned_data)
        except NeedsYes:
            will.append("It is more than one person writes off: a second one is asked to say yes first.")
        except Refused as refused:
            add_refused(form, refused)
        if not form.errors:
            will = [*will_retire(codes, form.cleaned_data["residue_into"], request.user), *will]
    return act(
        request,
        form,
        do,
        heading="Retire containers",
        back=reverse("stock"),
        button="Retire them" if will else "Retire",
        intro=(", ".join(codes) + ". Retired containers are out of use for good.")
        if codes
        else "No container is chosen; tick some in the list of stock first.",
        done=f"{len(codes)} retired.",
        lists={"fillable": queries.fillable()},
        hidden=[("codes", code) for code in codes],
        residues=_residues(codes),
        asks_first=not will,
        will=will,
    )


def _residues(codes: list[str]) -> list[tuple[Container, Residue]]:
    """What each of them still holds, beside what can be left when no liquid is; those in doubt first."""
    found = queries.containers().filter(code__in=codes).order_by("code")
    rows = [
        (one, residue(one.content, one.substance.code, one.water_capacity_mg))
        for one in found
        if one.substance and not one.is_oil
    ]
    return sorted(rows, key=lambda row: not row[1].doubtful)


@office
def regrade(request: HttpRequest, code: str) -> HttpResponse:
    shown = container_or_404(code)
    form = RegradeForm(request.POST or None)

    def do(data: dict) -> None:
        actions.regrade(code=code, grade=data["grade"], **form.head(request.user.username))

    return act(
        request,
        form,
        do,
        heading=f"Grade of {code}",
        back=reverse("container", args=[code]),
        intro=f"It is graded {shown.grade} now.",
        done=f"{code} is graded anew.",
    )


@office
def relabel(request: HttpRequest, code: str) -> HttpResponse:
    shown = container_or_404(code)
    form = RelabelForm(request.POST or None, initial={name: getattr(shown, name) for name in MARKED})

    def do(data: dict) -> None:
        actions.relabel(code=code, label={name: data[name] for name in MARKED})

    return act(
        request,
        form,
        do,
        heading=f"What the label of {code} says",
        back=reverse("container", args=[code]),
        intro=f"It is graded {shown.grade}. Copy what the label itself says; local rules ask for more than this.",
        done=f"What the label of {code} says is kept.",
    )


@everybody
def weigh(request: HttpRequest, code: str) -> HttpResponse:
    shown = container_or_404(code)
    form = WeighForm(request.POST or None, container=shown, person=request.user)

    def do(data: dict) -> None:
        given = {"readings": {code: data["gross"]}, "scale": data.get("scale", ""), **form.head(request.user.username)}
        if not (data["sure"] or form.confirmed):
            _, said = actions.count(**given, preview=True)
            far = next((reading for reading in said if reading.outcome.startswith("unexplained")), None)
            if far:
                form.ask()
                raise Refused(_far_off(far, shown, request.user), "sure")
        _, said = actions.count(**given)
        for reading in said:
            messages.info(request, f"{code}: {reading.outcome}.")

    page = act(
        request,
        form,
        do,
        heading=f"Weigh {code}",
        back=reverse("container", args=[code]),
        button="Post the reading",
        intro="The book is put right to the scale at once, and the difference is posted in the open.",
        done=f"The reading of {code} is posted.",
    )
    return page


def _far_off(reading: Reading, container: Container, person) -> str:
    unit = person.volume_unit if container.is_oil else person.mass_unit
    than = "more" if reading.difference > 0 else "less"
    return (
        f"{container.code}: this is {show(abs(reading.difference), unit)} {than} than the book says "
        f"({show(reading.net, unit)} beside {show(reading.book, unit)}), more than weighing can explain. Look at the "
        f"display and the label again. If it is right, tick this: it is then posted as {reading.outcome}."
    )


@office
def decant(request: HttpRequest, code: str) -> HttpResponse:
    container_or_404(code)
    form = DecantForm(request.POST or None, person=request.user, source=code)

    def do(data: dict) -> None:
        given = {name: data[name] for name in ("into", "before", "after", "quantity", "scale")}
        actions.decant(source=code, **given, **form.head(request.user.username))

    return act(
        request,
        form,
        do,
        heading=f"Decant from {code}",
        back=reverse("container", args=[code]),
        button="Post",
        intro="Weights are those of the container it leaves. What enters a container takes that container's grade.",
        done=f"Decanted from {code}.",
        lists={"fillable": queries.fillable()},
    )


def _travel_words(shown: Container) -> tuple[str, str]:
    """UN number with its labels, and the proper shipping name; blank for what is no dangerous good of class 2."""
    found = entry_of(shown.substance.code, shown.grade, shown.kind) if shown.substance else None
    if found is None or not found.is_dangerous:
        return "", ""
    return f"{found.un_number} · label {found.labels}", found.proper_name()


def _holds(shown: Container) -> str:
    """What a container's label says that it holds or is for."""
    if shown.unknown:
        return "not known yet: take it for nothing"
    said = " ".join(filter(None, [shown.substance.code if shown.substance else "", shown.grade]))
    return f"{said}, kept for {shown.kept_for}" if shown.kept_for else said


@everybody
def labels(request: HttpRequest) -> HttpResponse:
    """Labels of the chosen containers: a sheet, or one label where one is chosen and `single` is asked for."""
    codes = chosen_codes(request)
    found = queries.containers().filter(code__in=codes).order_by("code")
    made = [
        Label(
            shown.code,
            _holds(shown),
            "" if shown.tare_mg is None else show(shown.tare_mg, request.user.mass_unit),
            request.build_absolute_uri(reverse("scan", args=[shown.code])),
            _travel_words(shown),
            shown.supplier_number,
        )
        for shown in found
    ]
    if not made:
        raise Refused("No container is chosen; tick some in the list of stock first.")
    content = single(made[0]) if "single" in request.GET and len(made) == 1 else sheet(made)
    answer = HttpResponse(content, content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="labels.pdf"'
    return answer
