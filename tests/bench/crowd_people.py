"""What twenty people do in a day, for the load tool (locust).

CROWD names a JSON file: who there is, and the file to which each acknowledgement is added at once: what was done, the
number of its voucher, and the job's id (or 0).
"""

import json
import os
import random
import re
import uuid
from itertools import count
from pathlib import Path

from locust import FastHttpUser, between, task

SAID = json.loads(Path(os.environ["CROWD"]).read_text(encoding="utf-8"))
TOKEN = "a" * 32
VOUCHER = re.compile(r"/ledger/(\d+)/")


class Person(FastHttpUser):
    abstract = True
    wait_time = between(0.5, 1.5)
    people: list[dict] = []

    def on_start(self) -> None:
        self.me = self.people[next(self.turn)]
        self.client.auth_header = None
        self.headers = {"Cookie": f"sessionid={self.me['session']}; csrftoken={TOKEN}"}

    def look(self, address: str, name: str = "") -> str:
        with self.client.get(
            address, headers=self.headers, name=name or address, allow_redirects=False, catch_response=True
        ) as answer:
            if answer.status_code != 200:
                answer.failure(f"{answer.status_code}")
            return answer.text or "" if answer.headers and "pdf" not in answer.headers.get("Content-Type", "") else ""

    def post(self, address: str, name: str, **data: object) -> str:
        """Where it leads; blank where it was refused."""
        data = {"csrfmiddlewaretoken": TOKEN, **data}
        with self.client.post(
            address, data, headers=self.headers, name=name, allow_redirects=False, catch_response=True
        ) as answer:
            if answer.status_code != 302 or "sign-in" in answer.headers["Location"]:
                answer.failure(f"{answer.status_code}")
                return ""
            return answer.headers["Location"]

    def keep(self, what: str, where: str, job: int = 0) -> None:
        """Write down what was acknowledged, and the voucher that `where` names: 0 where its page did not come."""
        found = VOUCHER.search(where)
        with Path(SAID["acknowledged"]).open("a", encoding="ascii") as file:
            file.write(f"{what} {found[1] if found else 0} {job}\n")

    @task(4)
    def home(self) -> None:
        self.look("/")

    @task(3)
    def stock(self) -> None:
        self.look("/stock/")

    @task(1)
    def container(self) -> None:
        self.look(f"/stock/containers/{self.me['container']}/", "/stock/containers/CODE/")


class Technician(Person):
    people = [person for person in SAID["people"] if person["role"] == "technician"]
    fixed_count = len(people)
    turn = count()

    def on_start(self) -> None:
        super().on_start()
        self.gross = self.me["gross"]
        self.last = None

    @task(3)
    def jobs(self) -> None:
        self.look("/jobs/")

    @task(1)
    def sheet(self) -> None:
        if self.last:
            self.look(f"/jobs/{self.last}/sheet.pdf", "/jobs/N/sheet.pdf")

    @task(6)
    def job(self) -> None:
        """Start, weigh, charge, weigh, sign."""
        page = self.post(f"/jobs/new/{self.me['unit']}/", "start a job", key=uuid.uuid4())
        if not page:
            return
        pk = int(page.strip("/").split("/")[-1])
        self.look(f"/jobs/{pk}/", "/jobs/N/")
        entry = {"key": uuid.uuid4(), "action": "charge", "container": self.me["container"]}
        taken = random.randrange(400, 600)
        if not self.post(f"/jobs/{pk}/entry/", "weigh before", **entry, before=f"{self.gross} g"):
            return
        mark = self._mark(pk)
        entry |= {"before": f"{self.gross} g", "after": f"{self.gross - taken} g", "shown": mark}
        if not self.post(f"/jobs/{pk}/entry/", "weigh after", **entry):
            return
        if self.post(f"/jobs/{pk}/sign/", "sign", **{"reason-no-range": "no label", "reason-used": "load"}):
            self.gross -= taken
            self.last = pk
            self.keep("signed", self.look(f"/jobs/{pk}/", "/jobs/N/"), pk)

    def _mark(self, pk: int) -> str:
        """What the page says that it showed of the entry."""
        text = self.look(f"/jobs/{pk}/", "/jobs/N/")
        at = text.find('name="shown" value="', text.find(self.me["container"]))
        return text[at + 20 : text.find('"', at + 20)] if at > 0 else ""


class Office(Person):
    people = [person for person in SAID["people"] if person["role"] == "office"]
    fixed_count = len(people)
    turn = count()

    @task(2)
    def ledger(self) -> None:
        self.look("/ledger/")

    @task(3)
    def receive(self) -> None:
        line = {"kind": "can", "substance": "R-134a", "net": "340 g", "count": "2", "tare": "100 g"}
        line |= {"location": "Crowd store"}
        posted = self.post(
            "/receiving/new/",
            "receive",
            **{
                "key": uuid.uuid4(),
                "supplier": f"Supplier of {self.me['name']}",
                "document": f"INV-{uuid.uuid4().hex[:12]}",
                "day": self.me["today"],
                "line-TOTAL_FORMS": "1",
                "line-INITIAL_FORMS": "0",
            },
            **{f"line-0-{name}": value for name, value in line.items()},
        )
        if posted:
            self.keep("received", posted)

    @task(3)
    def count_place(self) -> None:
        """Begin to count, weigh, post."""
        self.look("/counting/")
        begun = self.post(
            f"/counting/{self.me['place']}/start/", "begin a count", key=uuid.uuid4(), day=self.me["today"]
        )
        if not begun:
            return
        weighed = {"code": self.me["container"], "gross": f"{self.me['gross']} g"}
        if not self.post(begun, "weigh in a count", **weighed):
            return
        posted = self.post(f"{begun}post/", "post a count")
        if posted:
            self.keep("counted", posted)

    @task(2)
    def report(self) -> None:
        period = f"first={self.me['today'][:8]}01&last={self.me['today']}"
        self.look(f"/reports/usage/?{period}", "/reports/usage/")

    @task(1)
    def report_drawn(self) -> None:
        period = f"first={self.me['today'][:8]}01&last={self.me['today']}"
        self.look(f"/reports/usage/?{period}&format=pdf", "/reports/usage/ as PDF")
