"""What the lists of every room share."""

from django.http import HttpRequest
from django_tables2 import RequestConfig, Table

PER_PAGE = 25


def paged(request: HttpRequest, table: Table, per_page: int = PER_PAGE) -> Table:
    """The table, sorted and turned to the page that the address asks for; a page that is not there is the nearest.

    How many rows a page has is not the visitor's to say: the table library would take any number, and fail at 0.
    """
    RequestConfig(request, paginate=False).configure(table)
    table.paginate(per_page=per_page)
    table.page = table.paginator.get_page(request.GET.get(table.prefixed_page_field))
    return table
