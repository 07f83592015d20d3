"""What twenty people do, for the load tool (locust): they look at pages, and do whole jobs from start to signature.

CROWD names a JSON file: who there is, and where what was acknowledged is written at the end.
"""

import json
import os
import random
import uuid
from itertools import count
from pathlib import Path

from locust import FastHttpUser, between, events, task

SAID = json.loads(Path(os.environ["CROWD"]).read_text(encoding="utf-8"))
TOKEN = "a" * 32
signed: list[int] = []
turn = count()


@events.quitting.add_listener
def keep(**_more) -> None:
    Path(SAID["acknowledged"]).write_text(json.dumps(signed), encoding="utf-8")


class Person(FastHttpUser):
    wait_time = between(0.5, 1.5)

    def on_start(self) -> None:
        self.me = SAID["people"][next(turn) % len(SAID["people"])]
        self.client.auth_header = None
        self.headers = {"Cookie": f"sessionid={self.me['session']}; csrftoken={TOKEN}"}
        self.gross = self.me["gross"]
        self.last = None

    def look(self, address: str, name: str = "") -> None:
        with self.client.get(
            address, headers=self.headers, name=name or address, allow_redirects=False, catch_response=True
        ) as answer:
            if answer.status_code != 200:
                answer.failure(f"{answer.status_code}")

    def post(self, address: str, name: str, **data: object) -> str:
        """Where it leads; blank where it was refused."""
        data = {"csrfmiddlewaretoken": TOKEN, **data}
        with self.client.post(
            address, data, headers=self.headers, name=name, allow_redirects=False, catch_response=True
        ) as answer:
            if answer.status_code != 302:
                answer.failure(f"{answer.status_code}")
                return ""
            return answer.headers["Location"]

    @task(4)
    def home(self) -> None:
        self.look("/")

    @task(3)
    def jobs(self) -> None:
        self.look("/jobs/")

    @task(3)
    def stock(self) -> None:
        self.look("/stock/")

    @task(1)
    def container(self) -> None:
        self.look(f"/stock/containers/{self.me['container']}/", "/stock/containers/CODE/")

    @task(1)
    def ledger(self) -> None:
        self.look("/ledger/")

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
            signed.append(pk)
            self.gross -= taken
            self.last = pk

    def _mark(self, pk: int) -> str:
        """What the page says that it showed of the entry."""
        with self.client.get(f"/jobs/{pk}/", headers=self.headers, name="/jobs/N/", catch_response=True) as answer:
            text = answer.text or ""
        at = text.find('name="shown" value="', text.find(self.me["container"]))
        return text[at + 20 : text.find('"', at + 20)] if at > 0 else ""
