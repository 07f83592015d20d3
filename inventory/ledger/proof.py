"""What a proof found, and how it reads the tables."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from django.db import connection

PAGE = 5000


@dataclass
class Proof:
    """What was counted, and every fault found. voucher: the first voucher that is wrong, where one can be named."""

    vouchers: int = 0
    movements: int = 0
    records: int = 0
    accounts: int = 0
    seals: int = 0
    number: int = 0
    head: str = ""
    ledger_id: str = ""
    faults: list[tuple[int | None, str]] = field(default_factory=list)

    def fault(self, message: str, voucher: int | None = None) -> None:
        self.faults.append((voucher, message))

    @property
    def holds(self) -> bool:
        return not self.faults

    @property
    def first_wrong(self) -> int | None:
        return min((number for number, _ in self.faults if number is not None), default=None)


def rows(sql: str, *values: object) -> list[tuple]:
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        return cursor.fetchall()


def spans(columns: dict[str, str], after: int, size: int) -> Iterator[tuple[int, int]]:
    """Ranges of so many numbers that hold some, from the one after a number on: however far apart they are. columns:
    table to the column of whole numbers that leads one of its indexes."""
    parts = [f"SELECT MIN({column}) AS one FROM {table} WHERE {column} >= %s" for table, column in columns.items()]
    least = f"SELECT MIN(one) FROM ({' UNION ALL '.join(parts)}) AS every"
    start = after + 1
    while (found := rows(least, *[start] * len(parts))[0][0]) is not None:
        start = found + size
        yield found, start


def pages(table: str, key: str, columns: str, after: int = -1) -> Iterator[tuple]:
    """All rows in the order of `key`, those after a value of it, read in pages by key so that memory stays flat."""
    last: tuple = (after,)
    while True:
        page = rows(f"SELECT {columns} FROM {table} WHERE {key} > %s ORDER BY {key} LIMIT {PAGE}", last[0])
        yield from page
        if len(page) < PAGE:
            return
        last = page[-1]
