"""What a scale sends is confirmed once against its display, can be taken back, and is read in the bay by that form."""

import html

import pytest

from inventory.containers.models import Scale
from inventory.ledger.stated_rows import stated
from inventory.ledger.verify import verify
from inventory.scales.sending import Connection, confirm_form, connect_scale, form_of, scales_said, taken_from
from inventory.scales.taking import meanings
from inventory.text.refusal import Refused
from tests.kept import made, saved

pytestmark = pytest.mark.django_db
LINE = "ST,GS,+0000.412kg"


@pytest.fixture
def bench(shop):
    return made(Scale, code="bench", readability_mg=1000, capacity_mg=30_000_000, usual=True)


def confirmed(scale, line=LINE, mg=412_000):
    """By the first meaning that says the figure."""
    known = [one for one in meanings(line, scale.readability_mg) if one.reading]
    which = next(number for number, one in enumerate(known) if one.reading.mg == mg)
    return confirm_form(scale, line=line, meaning=which, shown_mg=mg, by="olive")


def text(answer):
    return html.unescape(answer.content.decode())


def test_a_line_is_shown_in_each_form_that_reads_it(bench, office_client):
    answer = office_client.get(f"/scales/{bench.pk}/sends/", {"line": "412.3"})
    shown = text(answer)
    for unit in ("412.3 g", "412.3 kg", "412.3 lb", "412.3 oz"):
        assert unit in shown
    assert "sends no unit, always g" in shown and "does not send whether it stands still" in shown
    answer = office_client.get(f"/scales/{bench.pk}/sends/", {"line": "US,GS,+0000.412kg"})
    assert "The weight was still moving" in text(answer)
    answer = office_client.get(f"/scales/{bench.pk}/sends/", {"line": "who knows"})
    assert answer.status_code == 422 and "No form that this program knows reads this line" in text(answer)


def test_the_form_is_kept_where_the_display_showed_it(bench, office_client):
    address = f"/scales/{bench.pk}/sends/form/"
    asked = {"line": "412.3", "meaning": "0", "shown_mg": "412.3 kg"}
    answer = office_client.post(address, asked)
    assert answer.status_code == 422 and "the display showed another figure" in text(answer)
    assert Scale.objects.get().form is None, "nothing is left behind"
    assert office_client.post(address, {**asked, "shown_mg": ""}).status_code == 422
    assert office_client.post(address, {**asked, "shown_mg": "412.3 g"}).status_code == 302
    kept = Scale.objects.get()
    assert (kept.form, kept.form_unit, kept.form_expects, kept.form_by) == (11, "g", "gross", "oscar")
    assert (kept.form_line, kept.form_figure) == ("412.3<CR>", "412.3 g") and kept.form_at
    assert "Confirmed by oscar" in text(office_client.get(f"/scales/{bench.pk}/sends/"))
    assert stated("scale", "bench").said["form"] == 11 and verify().faults == []
    before = kept.form_at
    office_client.post(address, {**asked, "shown_mg": "412.3 g"})
    assert Scale.objects.get().form_at == before, "the same said again changes nothing"


def test_it_is_taken_back_and_confirmed_anew(bench, office_client):
    confirmed(bench)
    office_client.post(f"/scales/{bench.pk}/sends/back/")
    bench.refresh_from_db()
    assert bench.form is None and bench.form_line == "" and form_of(bench) is None
    with pytest.raises(Refused, match="Nobody has confirmed yet"):
        taken_from(bench, LINE + "<CR>")
    confirmed(bench, "   412.3 g", 412_300)
    assert form_of(bench).form == 5
    shown = text(office_client.get(f"/scales/{bench.pk}/sends/"))
    assert "What happened to it (4)" in shown, "made, confirmed, taken back, confirmed"


def test_how_it_is_connected_is_kept(bench, office_client):
    address, port = f"/scales/{bench.pk}/sends/by/", {"baud": "2400", "data_bits": "7", "parity": "even"}
    sent = {"connects": "serial", "stop_bits": "1", **port}
    assert office_client.post(address, sent).status_code == 302
    kept = Scale.objects.get()
    assert (kept.connects, kept.baud, kept.data_bits, kept.parity) == ("serial", 2400, 7, "even")
    answer = office_client.post(address, {**sent, "connects": "bluetooth", "service": "what"})
    assert answer.status_code == 422 and "such as 0000ffe0-0000" in text(answer)
    blue = {"connects": "bluetooth", "service": "FFE0", "characteristic": "0xffe1"}
    assert office_client.post(address, {**sent, **blue}).status_code == 302
    assert Scale.objects.get().service == "0000ffe0-0000-1000-8000-00805f9b34fb"
    office_client.post(address, {**sent, "connects": "standard"})
    assert Scale.objects.get().characteristic == "00002a9d-0000-1000-8000-00805f9b34fb"


def test_changing_how_it_is_connected_leaves_its_form(bench):
    stale = Scale.objects.get()
    confirmed(bench)
    connect_scale(stale, connection=Connection("serial", 4800))
    assert (Scale.objects.get().form, Scale.objects.get().baud) == (1, 4800)


def read(client, sent, code="bench"):
    return client.post(f"/scales/{code}/read/", {"sent": sent})


def test_the_bay_reads_by_the_confirmed_form(bench, technician_client):
    assert "Nobody has confirmed yet" in read(technician_client, f"{LINE}<CR>").json()["why"]
    confirmed(bench)
    said = read(technician_client, f"{LINE}<CR><LF>").json()
    assert said == {
        "figure": "0.412 kg",
        "weight": "0.412 kg",
        "said": "gross, stable",
        "basis": "gross",
        "stable": True,
        "sent": f"{LINE}<CR>",
    }
    assert "still moving" in read(technician_client, "US,GS,+0000.412kg<CR>").json()["why"]
    assert "not complete" in read(technician_client, LINE).json()["why"]
    assert "carries (30 kg)" in read(technician_client, "ST,GS,+0031.000kg<CR>").json()["why"]
    assert "more than one weight" in read(technician_client, "x" * 5000).json()["why"]
    assert read(technician_client, LINE, "none").status_code == 404
    saved(bench, retired=True)
    assert read(technician_client, f"{LINE}<CR>").status_code == 404


def test_a_page_knows_of_confirmed_scales_alone(bench):
    assert scales_said([bench]) == "[]"
    confirmed(bench)
    assert '"code": "bench"' in scales_said([bench]) and '"read": "/scales/bench/read/"' in scales_said([bench])
    saved(bench, retired=True)
    assert scales_said([bench]) == "[]"
